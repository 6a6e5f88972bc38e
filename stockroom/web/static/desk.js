"use strict";
/* The order desk: packs changed by a tap, sums that follow, why a line is there on a tap. */
(function () {
  var LATER = { "X-Stockroom-Queue": "1" };

  function show(place, part, text) {
    var found = place && place.querySelector("[data-part=" + part + "]");
    if (found && text !== undefined && found.textContent !== text) { found.textContent = text; }
  }
  function row(field) { return field.closest("tr, li"); }
  function keyOf(field) { return row(field).querySelector("[name=line]").value; }

  function follow(form, sums) {
    Object.keys(sums.orders).concat("all").forEach(function (supplier) {
      var place = form.querySelector("[data-sums='" + CSS.escape(supplier) + "']"), made = sums.orders[supplier] || sums.all;
      ["goods", "carriage", "total", "paid", "notes"].forEach(function (part) { show(place, part, made[part]); });
    });
    show(form, "compared", sums.all.notes);
    form.querySelectorAll("input[name=packs]").forEach(function (field) {
      var line = sums.lines[keyOf(field)];
      if (!line) { return; }
      show(row(field), "cost", line.fault ? line.cost + " (" + line.fault + ")" : line.cost);
      show(row(field), "lasts", line.lasts);
      show(row(field), "chance", line.chance);
      var bar = row(field).querySelector("[data-cover]");
      if (bar) { bar.setAttribute("width", Math.max(line.cover, 0)); }
    });
  }

  /* The reason opens below its line; without this script it is a page of its own. */
  function why(link) {
    var place = null;
    link.setAttribute("aria-expanded", "false");
    link.addEventListener("click", function (event) {
      event.preventDefault();
      if (place) { place.remove(); place = null; link.setAttribute("aria-expanded", "false"); return; }
      var asked = new URL(link.href);
      asked.searchParams.set("packs", row(link).querySelector("[name=packs]").value || "0");
      asked.searchParams.set("part", "1");
      fetch(asked).then(function (answer) { return answer.ok && !answer.redirected ? answer.text() : Promise.reject(new Error("no answer")); }).then(function (said) {
        if (place) { return; }
        place = document.createElement("tr");
        place.className = "why";
        var cell = place.insertCell();
        cell.colSpan = row(link).cells.length;
        cell.replaceChildren.apply(cell, Array.from(new DOMParser().parseFromString(said, "text/html").body.childNodes));
        row(link).after(place);
        link.setAttribute("aria-expanded", "true");
      }).catch(function () { window.location.assign(link.href); });
    });
  }

  function watch(form) {
    var latest = 0, only = false, again = form.querySelector("[data-again]");
    form.addEventListener("input", function (event) {
      if (event.target.name !== "packs") { return; }
      var mine = latest += 1;
      window.setTimeout(function () {
        if (mine !== latest) { return; }
        only = false;
        fetch(form.dataset.desk, { method: "POST", body: new FormData(form), headers: LATER }).then(function (answer) {
          if (!answer.ok) { return answer.text().then(function (words) { show(form, "compared", words); }); }
          return answer.json().then(function (sums) { if (mine === latest && !sums.waiting) { follow(form, sums); } });
        }).catch(function () { return null; });
      }, 250);
    });
    form.addEventListener("keydown", function (event) { if (event.key === "Enter" && event.target.name === "packs") { event.preventDefault(); } });
    form.querySelectorAll("th a").forEach(why);
    if (!again) { return; }
    again.hidden = true;
    /* Only what was changed is told when new figures are asked for: the rest is suggested anew. */
    form.addEventListener("submit", function (event) { only = event.submitter === again; });
    form.addEventListener("formdata", function (event) {
      if (!only) { return; }
      event.formData.delete("line");
      event.formData.delete("packs");
      form.querySelectorAll("input[name=packs]").forEach(function (field) {
        if (!("own" in field.dataset) && field.value === field.defaultValue) { return; }
        event.formData.append("line", keyOf(field));
        event.formData.append("packs", field.value);
      });
    });
  }

  document.querySelectorAll("form[data-desk]").forEach(watch);
})();
