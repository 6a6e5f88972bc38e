"use strict";
/* Comfort on top of pages that work without it: narrowing lists, sorting tables, sending a form once. */
(function () {
  function narrow(field) {
    var list = document.getElementById(field.dataset.narrow);
    if (!list) { return; }
    field.addEventListener("input", function () {
      var words = field.value.toLocaleLowerCase().split(/\s+/);
      Array.prototype.forEach.call(list.children, function (each) {
        var text = each.textContent.toLocaleLowerCase();
        each.hidden = !words.every(function (word) { return text.includes(word); });
      });
    });
  }

  function value(row, column) {
    var cell = row.cells[column];
    var said = cell && (cell.dataset.value || cell.textContent.trim());
    var figure = Number(said);
    return said === "" || Number.isNaN(figure) ? said || "" : figure;
  }

  function sort(table, column, heading) {
    var up = heading.getAttribute("aria-sort") !== "ascending";
    var body = table.tBodies[0];
    var rows = Array.from(body.rows);
    rows.sort(function (a, b) {
      var left = value(a, column), right = value(b, column);
      var both = typeof left === "number" && typeof right === "number";
      return (both ? left - right : String(left).localeCompare(String(right))) * (up ? 1 : -1);
    });
    rows.forEach(function (row) { body.appendChild(row); });
    table.querySelectorAll("th[aria-sort]").forEach(function (each) { each.removeAttribute("aria-sort"); });
    heading.setAttribute("aria-sort", up ? "ascending" : "descending");
  }

  function sortable(table) {
    table.querySelectorAll("thead th").forEach(function (heading, column) {
      var button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      button.textContent = heading.textContent;
      button.addEventListener("click", function () { sort(table, column, heading); });
      heading.replaceChildren(button);
    });
  }

  function once(form) {
    form.addEventListener("submit", function (event) {
      if (form.dataset.sent && !event.defaultPrevented) { event.preventDefault(); return; }
      form.dataset.sent = "yes";
      window.setTimeout(function () { delete form.dataset.sent; }, 4000);
    });
  }

  document.querySelectorAll("[data-narrow]").forEach(narrow);
  document.querySelectorAll("table[data-sort]").forEach(sortable);
  document.querySelectorAll("form[method=post]").forEach(once);
})();
