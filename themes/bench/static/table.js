// Sorting and narrowing for tables marked data-sortable. Without this script they are complete; on paper nothing is left out.
let order; // the rules of the page's language take long to load: not before somebody sorts
for (const table of document.querySelectorAll("table[data-sortable]")) {
  const body = table.tBodies[0], rows = [...body.rows], heads = [...table.tHead.rows[0].cells];
  // A blank key sorts last, whichever way.
  const compare = (a, b, sign) => {
    if (!a || !b) return (a ? 0 : 1) - (b ? 0 : 1);
    order ??= new Intl.Collator(document.documentElement.lang, { numeric: true });
    return sign * (isNaN(a) || isNaN(b) ? order.compare(a, b) : a - b);
  };
  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    const link = head.querySelector("a");
    if (link) { // it can't stand inside a button
      button.textContent = "⇅";
      button.ariaLabel = table.dataset.sortBy.replace("{name}", link.textContent);
    } else button.append(...head.childNodes);
    head.append(button);
    button.onclick = () => {
      const up = head.ariaSort !== "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.ariaSort = up ? "ascending" : "descending";
      const key = (row) => row.cells[column].dataset.sort ?? "";
      body.append(...[...rows].sort((a, b) => compare(key(a), key(b), up ? 1 : -1)));
    };
  });

  const label = document.createElement("label"), input = document.createElement("input"), count = document.createElement("output");
  input.type = "search";
  input.oninput = () => {
    const words = input.value.toLocaleLowerCase().split(/\s+/);
    let shown = 0;
    for (const row of rows) {
      const text = row.textContent.toLocaleLowerCase(), fits = words.every((word) => text.includes(word));
      row.classList.toggle("away", !fits);
      shown += fits;
    }
    count.value = input.value ? table.dataset.count.replace("{shown}", shown).replace("{all}", rows.length) : "";
  };
  label.append(table.dataset.narrow + " ", input);
  const bar = document.createElement("p");
  bar.className = "narrow";
  bar.append(label, count);
  table.closest(".scroll").before(bar);
}
