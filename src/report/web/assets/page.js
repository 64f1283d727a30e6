// Sorting of tables, large type, printing. Everything is a button, so that a keyboard reaches it.
"use strict";

(function () {
  const large = document.getElementById("large");
  large.addEventListener("click", () => {
    const on = document.documentElement.classList.toggle("large");
    large.setAttribute("aria-pressed", String(on));
    window.dispatchEvent(new Event("resize"));
  });

  document.getElementById("print").addEventListener("click", () => window.print());

  // On paper nothing can be opened. Answers of a lesson stay closed: they have a sheet of their own.
  window.addEventListener("beforeprint", () => {
    for (const details of document.querySelectorAll("details:not(.question)")) {
      if (!details.open) { details.open = true; details.dataset.opened = ""; }
    }
  });
  window.addEventListener("afterprint", () => {
    for (const details of document.querySelectorAll("details[data-opened]")) {
      details.open = false;
      delete details.dataset.opened;
    }
  });

  // The number with which a cell begins: "20 of 32", "62 % (45 to 77 %)", "+3 points", "-".
  function number(text) {
    const found = /^[+\u2212-]?\d[\d]*(\.\d+)?(e[+-]?\d+)?/.exec(text.replace(/^\*+/, ""));
    return found ? Number(found[0].replace("\u2212", "-")) : NaN;
  }

  // A row of which only the first cell says something is the heading of those below it, and stays.
  const isHeading = (row) => row.cells.length > 1 && Array.from(row.cells).every((c, i) => (c.textContent.trim() === "") === (i > 0));

  function sort(table, column, rising) {
    const groups = [[]];
    for (const row of table.tBodies[0].rows) {
      if (isHeading(row)) groups.push([]);
      groups[groups.length - 1].push(row);
    }
    for (const group of groups) {
      const heading = group.length > 0 && isHeading(group[0]) ? group.slice(0, 1) : [];
      table.tBodies[0].append(...heading, ...sorted(group.slice(heading.length), column, rising));
    }
  }

  function sorted(list, column, rising) {
    const rows = list.map((row, place) => ({ row, place, text: (row.cells[column] || row).textContent.trim() }));
    const known = rows.filter((r) => r.text !== "-" && r.text !== "");
    const numeric = known.length > 0 && known.every((r) => !Number.isNaN(number(r.text)));
    rows.sort((a, b) => {
      const [x, y] = [a, b].map((r) => (numeric ? number(r.text) : r.text.toLowerCase()));
      const missing = numeric ? Number(Number.isNaN(x)) - Number(Number.isNaN(y)) : 0;
      if (missing !== 0) return missing;
      const order = x < y ? -1 : x > y ? 1 : 0;
      return (rising ? order : -order) || a.place - b.place;
    });
    return rows.map((r) => r.row);
  }

  for (const table of document.querySelectorAll("table.sortable")) {
    const heads = Array.from(table.tHead.rows[0].cells);
    // Numbers stand under each other, and so does what stands in their place where one is missing.
    heads.forEach((head, column) => {
      const cells = Array.from(table.tBodies[0].rows, (row) => row.cells[column]).filter(Boolean);
      const said = cells.filter((cell) => !["", "-"].includes(cell.textContent.trim()));
      const isNumber = (cell) => /^[+\u2212-]?\d[\d.]*( %)?$/.test(cell.textContent.trim());
      if (said.length === 0 || !said.every(isNumber)) return;
      for (const cell of [head, ...cells]) cell.classList.add("number");
    });
    heads.forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      button.title = "Sort by this column";
      head.append(button);
      head.scope = "col";
      button.addEventListener("click", () => {
        const rising = head.getAttribute("aria-sort") !== "ascending";
        for (const other of heads) other.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", rising ? "ascending" : "descending");
        sort(table, column, rising);
      });
    });
  }
})();
