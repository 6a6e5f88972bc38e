"use strict";
/* Pages seen before open without a connection; with one, the shop's own answer always comes first. Where nobody answers
   within a moment the page as it was is shown: it says itself from when it is. */
var NAME = "stockroom-2", PATIENCE = 2000;
var DAILY = ["/", "/tickets", "/jobs", "/jobs?to=take-in", "/count", "/counter", "/saved", "/no-connection"];

self.addEventListener("install", function (event) {
  event.waitUntil(caches.open(NAME).then(function (cache) {
    return Promise.all(DAILY.map(function (page) { return fetch(page, { credentials: "same-origin" }).then(function (answer) { if (answer.ok && !answer.redirected) { return cache.put(page, answer); } return null; }).catch(function () { return null; }); }));
  }).then(function () { return self.skipWaiting(); }));
});

self.addEventListener("activate", function (event) {
  event.waitUntil(caches.keys().then(function (all) {
    return Promise.all(all.filter(function (name) { return name !== NAME; }).map(function (name) { return caches.delete(name); }));
  }).then(function () { return self.clients.claim(); }));
});

function fresh(asked) {
  return fetch(asked).then(function (answer) {
    if (answer.ok && !answer.redirected && !/attachment/.test(answer.headers.get("Content-Disposition") || "")) {
      var copy = answer.clone();
      caches.open(NAME).then(function (cache) { cache.put(asked, copy); });
    }
    return answer;
  });
}

/* Wait for the shop as long as it takes where nothing is kept; else only a moment. */
function answer(asked) {
  return caches.match(asked).then(function (found) {
    var coming = fresh(asked);
    if (!found) { return coming; }
    var late = new Promise(function (done) { self.setTimeout(function () { done(found); }, PATIENCE); });
    return Promise.race([coming, late]).catch(function () { return found; });
  }).catch(function () {
    if (asked.mode !== "navigate") { return Response.error(); }
    return caches.match("/no-connection").then(function (found) { return found || Response.error(); });
  });
}

self.addEventListener("fetch", function (event) {
  var asked = event.request, address = new URL(asked.url);
  if (asked.method !== "GET" || address.origin !== self.location.origin) { return; }
  if (asked.mode !== "navigate" && !address.pathname.startsWith("/static/")) { return; }
  event.respondWith(answer(asked));
});
