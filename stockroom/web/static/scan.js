"use strict";
/* A label read by the camera, where the browser can: as if a hand scanner had typed it. */
(function () {
  /* A code finds its place on the page: a hand scanner types it and presses Enter. */
  function jump(field) {
    function go(event) {
      event.preventDefault();
      var said = field.value.trim(), address = /[?&]code=([^&]+)/.exec(said), code = (address ? decodeURIComponent(address[1]) : said).toLocaleLowerCase();
      var place = Array.from(document.querySelectorAll("section[data-code]")).find(function (each) { return each.dataset.code.toLocaleLowerCase() === code; });
      if (!place) { return; }
      field.value = "";
      var folded = place.querySelector("details");
      if (folded && place.classList.contains("done")) { folded.open = true; }
      place.scrollIntoView({ block: "center" });
      place.querySelector("input:not([type=hidden])").focus();
    }
    field.form.addEventListener("submit", go);
    field.addEventListener("scanned", go);
  }
  document.querySelectorAll("input[data-jump]").forEach(jump);
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) { return; }

  function watch(field) {
    var button = document.createElement("button"), film = document.createElement("video"), stream = null;
    button.type = "button";
    button.className = "quiet";
    button.textContent = field.dataset.scan;
    film.hidden = true;
    film.playsInline = true;
    field.after(button, film);

    function stop() {
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
    button.addEventListener("click", function () {
      if (stream) { stop(); return; }
      navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }).then(function (given) {
        stream = given;
        film.srcObject = given;
        film.hidden = false;
        return film.play().then(function () { look(new window.BarcodeDetector({ formats: ["qr_code"] })); });
      }).catch(stop);
    });
  }
  document.querySelectorAll("input[data-scan]").forEach(watch);
})();
