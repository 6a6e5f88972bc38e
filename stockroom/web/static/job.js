"use strict";
/* The earliest day that can honestly be promised is proposed, until somebody says another. */
(function () {
  var form = document.querySelector("form[data-promise]"), field = document.getElementById("promised"), latest = 0, own = false;
  if (!form || !field) { return; }
  function ask() {
    var mine = latest += 1;
    fetch(form.dataset.promise, { method: "POST", body: new FormData(form), headers: { "X-Stockroom-Queue": "1" } }).then(function (answer) {
      return answer.ok ? answer.json() : { said: "" };
    }).then(function (found) {
      if (mine !== latest) { return; }
      form.querySelector("[data-part=promise]").textContent = found.said;
      if (!own) { field.value = found.day || ""; }
    }).catch(function () { return null; });
  }
  field.addEventListener("input", function () { own = true; });
  form.addEventListener("change", function (event) {
    if (event.target !== field) { ask(); }
    if (event.target.id === "other_size" && event.target.value) { form.querySelector("[name=size][value='']").checked = true; }
  });
  ask();
})();
