app_name = "people"
urlpatterns = []
