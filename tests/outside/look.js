// What a person can see of the open page. Leaves {
//   overflow: [scroll width, window width] in CSS px,
//   visible:  [text, …] of every text node some of which can be seen, in document order, white space collapsed,
//   hidden:   [text, …] of those of which nothing can,
//   clipped:  ["text: why", …] of text cut off, run out of its cell or out of the window,
//   covered:  ["text: by what", …] of text under something else,
// }
() => {
  const SLACK = 1; // px: rects are fractional, and letter spacing adds a blank after the last letter
  const blank = /[\s\u00ad\u034f\u061c\u115f\u180e\u200b-\u200f\u2007\u202a-\u202e\u2060-\u2069\u2800\ufeff]+/g;
  const root = document.documentElement;
  const result = { overflow: [root.scrollWidth, root.clientWidth], visible: [], hidden: [], clipped: [], covered: [] };
  const label = (e) => e.tagName.toLowerCase() + (e.className ? "." + String(e.className).replace(/ /g, ".") : "");

  const clippers = (element) => {
    const found = [];
    for (let e = element; e && e !== root && e !== document.body; e = e.parentElement) {
      const style = getComputedStyle(e);
      const cut = [style.overflowX, style.overflowY].some((value) => value !== "visible");
      if (cut && style.display !== "inline") found.push(e.getBoundingClientRect());
    }
    return found;
  };
  const drawn = (element) => {
    if (getComputedStyle(element).visibility !== "visible") return false;
    for (let e = element; e; e = e.parentElement) if (Number(getComputedStyle(e).opacity) < 0.05) return false;
    return true;
  };

  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (parent.closest("style, script, title, noscript, template")) continue;
    const text = node.data.replace(/[\s\u200e\u200f\u2066-\u2069]+/g, " ").trim();
    if (!text.replace(blank, "")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const rects = [...range.getClientRects()].filter((r) => r.width > 0.5 && r.height > 1.5);
    const boxes = clippers(parent);
    // Letters may stand out of a tight line box by design: the font's height is not the ink's.
    const tall = parseFloat(getComputedStyle(parent).fontSize) * 0.25 + SLACK;
    const inside = (r, box) => Math.min(r.right, box.right) - Math.max(r.left, box.left) > SLACK &&
      Math.min(r.bottom, box.bottom) - Math.max(r.top, box.top) > SLACK;
    const seen = drawn(parent) ? rects.filter((r) => boxes.every((box) => inside(r, box))) : [];
    if (!seen.length) { result.hidden.push(text); continue; }
    result.visible.push(text);

    const cell = parent.closest("td, th");
    const clip = (why) => result.clipped.push(`${text.slice(0, 60)}: ${why}`);
    if (seen.length < rects.length) clip("a line of it is cut off whole");
    for (const r of seen) {
      if (r.left < -SLACK || r.right > root.clientWidth + SLACK) clip("runs out of the window");
      if (boxes.some((b) => r.left < b.left - SLACK || r.right > b.right + SLACK ||
          r.top < b.top - tall || r.bottom > b.bottom + tall)) clip("is cut off by an overflow");
      if (cell) {
        const c = cell.getBoundingClientRect();
        if (r.left < c.left - SLACK || r.right > c.right + SLACK) clip(`runs out of ${label(cell)}`);
      }
      const [x, y] = [r.left + r.width / 2, r.top + r.height / 2];
      const hit = document.elementFromPoint(x, y);
      // Of a heading set tight, Firefox answers for the empty top of its letters, beyond its own box.
      const there = hit && [...hit.getClientRects()].some((b) => x >= b.left && x <= b.right && y >= b.top && y <= b.bottom);
      if (there && hit !== parent && !parent.contains(hit) && !hit.contains(parent))
        result.covered.push(`${text.slice(0, 60)}: by ${label(hit)}`);
    }
  }
  return result;
}
