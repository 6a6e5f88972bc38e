"use strict";
/* A label read by the camera, where the browser can: as if a hand scanner had typed it. */
(function () {
  /* A code finds its place on the page: a hand scanner types it and presses Enter. */
  function jump(field) {
    function go(event) {
      event.preventDefault();
      var said = field.value.trim(), address = /[?&]code=([^&]+)/.exec(said), code = (address ? decodeURIComponent(address[1]) : said).toLocaleLowerCase();
      var place = Array.from(document.querySelectorAll("section[data-code]")).find(function (each) { return each.dataset.code.toLocaleLowerCase() === code; });
      field.setCustomValidity(place ? "" : document.body.dataset.noSuch);
      if (!place) { field.reportValidity(); return; }
      field.value = "";
      var folded = place.querySelector("details");
      if (folded && place.classList.contains("done")) { folded.open = true; }
      place.scrollIntoView({ block: "center" });
      place.querySelector("input:not([type=hidden])").focus();
    }
    field.form.noValidate = true;  // said here, when it is looked for
    field.form.addEventListener("submit", go);
    field.addEventListener("scanned", go);
  }
  document.querySelectorAll("input[data-jump]").forEach(jump);

  /* Some browsers know the reader by name only, and read nothing; none gives the camera over plain HTTP. */
  function able() {
    if (!("BarcodeDetector" in window) || !navigator.mediaDevices) { return Promise.resolve(false); }
    return window.BarcodeDetector.getSupportedFormats().then(function (formats) { return formats.includes("qr_code"); }, function () { return false; });
  }

  function watch(field) {
    var button = document.createElement("button"), film = document.createElement("video"), note = document.createElement("p"), stream = null;
    button.type = "button";
    button.className = "quiet";
    button.textContent = field.dataset.scan;
    film.hidden = true;
    film.playsInline = true;
    note.setAttribute("role", "status");
    field.after(button, film, note);

    function stop(wrong) {
      note.textContent = wrong ? document.body.dataset.noCamera : "";
      if (stream) { stream.getTracks().forEach(function (track) { track.stop(); }); }
      stream = null;
      film.hidden = true;
    }
    function look(detector) {
      if (!stream) { return; }
      detector.detect(film).then(function (found) {
        if (!found.length) { window.setTimeout(look, 200, detector); return; }
        stop();
        field.value = found[0].rawValue;
        if (field.dispatchEvent(new CustomEvent("scanned", { bubbles: true, cancelable: true })) && field.name) { field.form.requestSubmit(); }
      }).catch(stop);
    }
    function start() {
      navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }).then(function (given) {
        stream = given;
        film.srcObject = given;
        film.hidden = false;
        return film.play().then(function () { look(new window.BarcodeDetector({ formats: ["qr_code"] })); });
      }).catch(stop);
    }
    button.addEventListener("click", function () {
      if (stream) { stop(); return; }
      able().then(function (can) { if (can) { stop(); start(); } else { note.textContent = document.body.dataset.noReader; } });
    });
  }
  /* On a device that is touched the button is there in any case, and says what to do where it can't help. */
  able().then(function (can) {
    if (can || window.matchMedia("(pointer: coarse)").matches) { document.querySelectorAll("input[data-scan]").forEach(watch); }
  });
})();
