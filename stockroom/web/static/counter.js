"use strict";
/* The sale under way: a tap or a scan adds a line, what it comes to is shown; the shop's answer is what counts. */
(function () {
  var form = document.querySelector("form.sale");
  if (!form) { return; }
  var rows = Array.from(form.querySelectorAll("[data-code]")), find = document.getElementById("q");
  var pattern = form.dataset.money, decimals = (/0[.,](0+)/.exec(pattern) || ["", ""])[1].length, mark = (/0([.,])0/.exec(pattern) || ["", "."])[1];
  var label = form.dataset.keep;

  function number(text) {
    var found = /^\s*(\d+)(?:[.,](\d+))?\s*$/.exec(text);
    return found ? Number(found[1] + "." + (found[2] || "0")) : NaN;
  }
  function money(minor) {
    var text = (minor / Math.pow(10, decimals)).toFixed(decimals).replace(".", mark);
    return pattern.replace(/0(?:[.,]0+)?/, text);
  }
  function field(row) { return row.querySelector("input"); }
  function off(total) {
    var text = form.elements.discount.value.trim(), share = /%$/.test(text), much = number(text.replace("%", ""));
    if (!text) { return 0; }
    return share ? Math.round(total * much / 100) : Math.round(much * Math.pow(10, decimals));
  }

  function add() {
    var lines = rows.filter(function (row) { return field(row).value.trim() !== "" && field(row).value.trim() !== "0"; });
    var total = lines.reduce(function (sum, row) { return sum + Math.round(Number(row.dataset.price) * number(field(row).value)); }, 0);
    var paid = form.elements.price.value.trim();
    total = paid ? Math.round(number(paid) * Math.pow(10, decimals)) : total - off(total);
    var what = lines.map(function (row) { return field(row).value.trim() + " × " + row.querySelector("b").textContent; }).join(", ");
    rows.forEach(function (row) { row.classList.toggle("here", lines.includes(row)); });
    form.querySelector("[data-part=what]").textContent = what;
    form.querySelector("[data-part=total]").textContent = lines.length && !Number.isNaN(total) ? money(total) : "";
    form.dataset.keep = what ? label + ": " + what : label;
  }

  function more(row) {
    field(row).value = String((number(field(row).value) || 0) + 1);
    add();
  }

  /* A code that was scanned or typed adds its line; else what is found alone does. */
  function take() {
    var said = find.value.trim(), address = /[?&]code=([^&]+)/.exec(said), code = (address ? decodeURIComponent(address[1]) : said).toLocaleLowerCase();
    var shown = rows.filter(function (row) { return !row.hidden; });
    var row = rows.find(function (each) { return each.dataset.code.toLocaleLowerCase() === code; }) || (shown.length === 1 && said ? shown[0] : null);
    if (!row) { return; }
    find.value = "";
    rows.forEach(function (each) { each.hidden = false; });
    more(row);
    row.scrollIntoView({ block: "center" });
    find.focus();
  }

  rows.forEach(function (row) {
    row.querySelector("label").addEventListener("click", function (event) { event.preventDefault(); more(row); });
  });
  form.addEventListener("input", add);
  form.addEventListener("reset", function () { window.setTimeout(add, 0); });
  form.addEventListener("keydown", function (event) { if (event.key === "Enter" && event.target.matches("input")) { event.preventDefault(); } });
  find.form.addEventListener("submit", function (event) { event.preventDefault(); take(); });
  find.addEventListener("scanned", take);
  add();
})();
