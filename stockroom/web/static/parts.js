"use strict";
/* A large file is sent in parts, one after the other, before its form goes without it: no request grows large. */
(function () {
  var PART = 4 * 1024 * 1024;

  async function send(form, file) {
    var bar = form.querySelector("progress"), token = form.querySelector("[name=csrf]").value;
    bar.hidden = false;
    for (var at = 0; at === 0 || at < file.size; at += PART) {
      var answer = await fetch(form.dataset.parts + "?at=" + at, {
        method: "POST",
        headers: { "X-Stockroom-Token": token, "Content-Type": "application/octet-stream" },
        body: file.slice(at, at + PART)
      });
      if (!answer.ok) { throw new Error(String(answer.status)); }
      bar.value = Math.min(1, (at + PART) / (file.size || 1));
    }
  }

  document.querySelectorAll("form[data-parts]").forEach(function (form) {
    var field = form.querySelector("input[type=file]");
    if (!field) { return; }
    form.addEventListener("submit", function (event) {
      var file = field.files[0];
      if (!file || field.disabled) { return; }
      event.preventDefault();
      if (form.dataset.busy) { return; }
      form.dataset.busy = "yes";
      var button = form.querySelector("button");
      button.disabled = true;
      send(form, file).then(function () {
        field.disabled = true;  /* it is there already: only the form itself goes */
        form.submit();
      }, function () {
        button.disabled = false;
        delete form.dataset.busy;
        form.querySelector("[role=alert]").textContent = form.dataset.broken;
      });
    });
  });
})();
