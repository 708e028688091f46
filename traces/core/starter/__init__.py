"""What a cranking capture says about starter, battery and cables, apart from the cylinders."""
