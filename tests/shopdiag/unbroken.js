/* Every VIN and firing order in text, with the lines it stands on; and whether the page is too wide. */
() => {
  document.querySelectorAll(".fold, .fold details").forEach((e) => { e.open = true; });
  const found = [];
  const pieces = /[A-HJ-NPR-Z0-9]{17}|\b\d{1,2}(?:[-‑]\d{1,2}){2,}\b/g;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let seen = 0;
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.parentElement.checkVisibility()) continue;
    for (const match of node.data.matchAll(pieces)) {
      const range = document.createRange();
      range.setStart(node, match.index);
      range.setEnd(node, match.index + match[0].length);
      const boxes = [...range.getClientRects()].filter((r) => r.width > 0);
      const tops = boxes.map((r) => r.top), rights = boxes.map((r) => r.right);
      if (!tops.length) continue;
      seen += 1;
      const block = node.parentElement.closest("p, li, td, th, dd, dt, h1, h2, div, figcaption");
      if (Math.max(...rights) > block.getBoundingClientRect().right + 1) {
        found.push(match[0] + " runs out of " + block.outerHTML.slice(0, 160));
      }
      if (Math.max(...tops) - Math.min(...tops) > 4) {
        found.push(match[0] + " in: " + node.parentElement.outerHTML.slice(0, 160));
      }
    }
  }
  /* A flex box makes boxes of a text's pieces and drops the blanks between them. */
  for (const piece of document.querySelectorAll(".unbroken")) {
    const beside = [...piece.parentElement.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
    if (beside && getComputedStyle(piece.parentElement).display.includes("flex")) {
      found.push("no blank beside " + piece.textContent + " in: " + piece.parentElement.outerHTML.slice(0, 160));
    }
  }
  const wide = document.scrollingElement.scrollWidth - innerWidth;
  if (wide > 0 && matchMedia("screen").matches) found.push("the page is " + wide + " px too wide");
  return { seen, found };
}
