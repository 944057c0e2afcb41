for (const table of document.querySelectorAll("table.sorted")) {
  const body = table.tBodies[0];
  const heads = table.querySelectorAll("th.order");
  for (const head of heads) {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const way = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
      const at = head.cellIndex;
      const rows = [...body.rows];
      rows.sort((a, b) => way * (a.cells[at].dataset.order - b.cells[at].dataset.order));
      for (const each of heads) each.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
      body.append(...rows);
    });
  }
}
