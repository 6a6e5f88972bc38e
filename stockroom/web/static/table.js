"use strict";
/* A list as a table: rows come by themselves as the last is filled in, begin as the row above, and can be pasted. */
(function () {
  function fields(row) { return Array.from(row.querySelectorAll("input, select")); }
  function rows(section) { return Array.from(section.querySelectorAll(".typed")); }
  function blank(row) { return fields(row).every(function (each) { return !each.value || each.hasAttribute("data-carried"); }); }
  function more(section) {
    var last = rows(section).filter(function (row) { return row.dataset.row; }).pop(), key, next, made;
    if (!last) { return null; }
    key = last.dataset.row; next = key.replace(/\d+$/, function (digits) { return Number(digits) + 1; });
    made = document.createElement("div");
    made.innerHTML = last.outerHTML.split(":" + key + "\"").join(":" + next + "\"").split(":" + key + "-w\"").join(":" + next + "-w\"").split("data-row=\"" + key + "\"").join("data-row=\"" + next + "\"");
    made = made.firstElementChild;
    made.removeAttribute("id");
    made.setAttribute("aria-label", last.getAttribute("aria-label").replace(/\d+$/, function (digits) { return Number(digits) + 1; }));
    fields(made).forEach(function (each) { each.value = ""; each.removeAttribute("aria-invalid"); if (each.options) { each.selectedIndex = 0; } });
    made.querySelectorAll("[data-fault]").forEach(function (each) { each.textContent = ""; });
    last.after(made);
    return made;
  }
  function put(field, text) {
    var wanted = text.trim(), found;
    if (!field.options) { field.value = wanted; return; }
    found = Array.from(field.options).find(function (each) { return [each.value, each.text].some(function (said) { return said.trim().toLowerCase() === wanted.toLowerCase(); }); });
    field.value = found ? found.value : "";
  }
  function carry(row, section) {
    var every = rows(section), above = every[every.indexOf(row) - 1];
    if (!above || !above.dataset.row) { return; }
    fields(row).forEach(function (each) {
      var there = above.querySelector("[name^=\"" + each.name.split(":")[0] + ":\"]");
      if (each.hasAttribute("data-carried") && !each.value && there) { each.value = there.value; }
    });
  }
  function headings(row, cells) {
    var titles = fields(row).map(function (each) { return [row.querySelector("label[for=\"" + each.id + "\"]").textContent, each.name.split(":")[0]].map(function (said) { return said.trim().toLowerCase(); }); });
    var at = cells.map(function (cell) { return titles.findIndex(function (said) { return said.indexOf(cell.trim().toLowerCase()) >= 0; }); });
    return at.filter(function (each) { return each >= 0; }).length > 1 ? at : null;
  }
  function paste(section, row, field, text) {
    var lines = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").map(function (line) { return line.split("\t"); });
    var from = fields(row).indexOf(field), at = headings(row, lines[0]);
    if (at) { lines.shift(); }
    lines.forEach(function (cells) {
      var mine = fields(row), every;
      cells.forEach(function (cell, n) { var to = at ? at[n] : from + n; if (to >= 0 && to < mine.length) { put(mine[to], cell); } });
      every = rows(section); row = every[every.indexOf(row) + 1] || more(section) || row;
    });
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
  function alike(form, section, key) {
    var other = rows(form.querySelector("[data-section=\"" + CSS.escape(key) + "\"]")).filter(function (row) { return !blank(row); }), mine = rows(section);
    other.forEach(function (from, n) {
      var to = mine[n] || more(section);
      fields(from).forEach(function (each, at) { fields(to)[at].value = each.value; });
    });
    if (other.length) { fields(mine[0])[1].dispatchEvent(new Event("input", { bubbles: true })); }
  }
  document.querySelectorAll("form[data-table]").forEach(function (form) {
    var typed = false;
    form.addEventListener("input", function () { typed = true; });
    form.addEventListener("submit", function () { typed = false; });
    window.addEventListener("beforeunload", function (event) { if (typed) { event.preventDefault(); } });
    form.addEventListener("input", function (event) {
      var row = event.target.closest(".typed"), section = event.target.closest(".typing"), every;
      if (!row || !row.dataset.row) { return; }
      if (fields(row)[0] === event.target) { carry(row, section); }
      every = rows(section);
      if (every[every.length - 1] === row) { more(section); }
    });
    form.addEventListener("paste", function (event) {
      var text = event.clipboardData.getData("text"), row = event.target.closest(".typed");
      if (row && row.dataset.row && /[\t\n]/.test(text.trim())) { event.preventDefault(); paste(event.target.closest(".typing"), row, event.target, text); }
    });
    form.querySelectorAll("[data-alike]").forEach(function (place) {
      place.hidden = false;
      place.querySelector("select").addEventListener("change", function (event) { if (event.target.value) { alike(form, place.closest(".typing"), event.target.value); } });
    });
  });
})();
