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

  /* A table too wide for its place is shown row by row, so that nobody pushes it sideways; it stays a table to a reader. */
  function stack(table) {
    var place = table.parentElement, around = getComputedStyle(place);
    var room = place.clientWidth - parseFloat(around.paddingLeft) - parseFloat(around.paddingRight);
    function parts(selector, role) { table.querySelectorAll(selector).forEach(function (each) { each.setAttribute("role", role); }); }
    table.classList.remove("stacked");
    if (table.scrollWidth <= room + 1 || !table.tHead) { return; }
    if (!table.hasAttribute("role")) {
      var headings = Array.from(table.tHead.rows[0].cells).map(function (each) { return each.textContent.trim(); });
      Array.from(table.tBodies).forEach(function (body) {
        Array.from(body.rows).forEach(function (row) {
          Array.from(row.cells).forEach(function (cell, column) { if (cell.colSpan === 1) { cell.dataset.under = headings[column] || ""; } });
        });
      });
      table.setAttribute("role", "table");
      parts("thead, tbody", "rowgroup");
      parts("tr", "row");
      parts("thead th", "columnheader");
      parts("tbody th", "rowheader");
      parts("tbody td", "cell");
    }
    table.classList.add("stacked");
  }

  function fit() { document.querySelectorAll("main table:not(.desk table)").forEach(stack); }

  /* A page that waited is loaded anew; what was just said, with its way back, stays on it. */
  function again() {
    var said = Array.from(document.querySelectorAll("[data-said]")).map(function (each) { return each.outerHTML; });
    sessionStorage.setItem("stockroom-said", said.join(""));
    window.location.reload();
  }

  function remember() {
    var said = sessionStorage.getItem("stockroom-said");
    sessionStorage.removeItem("stockroom-said");
    if (!said) { return; }
    var kept = new DOMParser().parseFromString(said, "text/html").body;
    document.getElementById("main").prepend.apply(document.getElementById("main"), Array.from(kept.children));
  }

  /* Say whether anything was typed or chosen that a page loaded anew would throw away. */
  function changed() {
    return document.querySelector("[data-own]") !== null || Array.from(document.querySelectorAll("main input, main textarea, main option")).some(function (each) {
      if (each.type === "hidden" || each.type === "search") { return false; }
      if (each.matches("option")) { return each.selected !== each.defaultSelected && each.parentElement.querySelector("option[selected]") !== null; }
      return each.type === "radio" || each.type === "checkbox" ? each.checked !== each.defaultChecked : each.value !== each.defaultValue;
    });
  }

  /* What was changed is never thrown away: the new figures are offered, where the page can with the changes in them. */
  function offer(note) {
    var button = document.createElement("button"), anew = document.querySelector("button[data-again]");
    button.type = "button";
    button.className = "quiet";
    button.textContent = note.dataset.ready;
    button.addEventListener("click", anew ? function () { anew.click(); } : again);
    note.replaceChildren(button);
    delete note.dataset.wait;
  }

  function wait(note) {
    window.setTimeout(function () {
      fetch(note.dataset.wait, { headers: { "X-Stockroom-Queue": "now" } }).then(function (answer) { return answer.json(); }).then(function (said) {
        var busy = document.activeElement && document.activeElement.matches("main input, main select, main textarea");
        var reading = document.querySelector("main details[open]");
        if (!said.running && changed()) { offer(note); } else if (said.running || busy || reading) { wait(note); } else { again(); }
      }).catch(function () { wait(note); });
    }, 1500);
  }

  /* A figure that is mostly small is changed by taps beside it. */
  function step(field) {
    var ids = (field.getAttribute("aria-labelledby") || "").split(" ").filter(Boolean);
    var names = ids.length ? ids.map(function (id) { return document.getElementById(id); }) : Array.from(field.labels);
    var named = names.map(function (each) { return each ? each.textContent.trim() : ""; }).join(" ");
    function button(sign, change) {
      var made = document.createElement("button");
      made.type = "button";
      made.className = "quiet step";
      made.textContent = sign;
      made.setAttribute("aria-label", named + " " + sign + " 1");
      made.addEventListener("click", function () {
        field.value = Math.max((Number(field.value.replace(",", ".")) || 0) + change, 0) || (field.type === "number" ? 0 : "");
        field.dispatchEvent(new Event("input", { bubbles: true }));
      });
      return made;
    }
    field.before(button("−", -1));
    field.after(button("+", 1));
  }

  function copy(button) {
    button.addEventListener("click", function () {
      var text = document.getElementById(button.dataset.copy);
      function done() { button.textContent = button.dataset.done; }
      if (navigator.clipboard) { navigator.clipboard.writeText(text.value).then(done); return; }
      text.select();
      if (document.execCommand("copy")) { done(); }
    });
  }

  remember();
  document.querySelectorAll("[data-wait]").forEach(wait);
  document.querySelectorAll("[data-step], .desk table input[name=packs]").forEach(step);
  document.querySelectorAll("[data-copy]").forEach(copy);
  document.querySelectorAll("[data-print]").forEach(function (button) { button.addEventListener("click", function () { window.print(); }); });
  document.querySelectorAll("[data-narrow]").forEach(narrow);
  document.querySelectorAll("table[data-sort]").forEach(sortable);
  fit();
  window.addEventListener("resize", fit);
})();
