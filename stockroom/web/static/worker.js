"use strict";
/* Pages seen before open without a connection; with one, the shop's own answer always comes first. */
var NAME = "stockroom-1";
var DAILY = ["/", "/tickets", "/jobs", "/count", "/counter", "/saved"];

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

self.addEventListener("fetch", function (event) {
  var asked = event.request, address = new URL(asked.url);
  if (asked.method !== "GET" || address.origin !== self.location.origin) { return; }
  if (asked.mode !== "navigate" && !address.pathname.startsWith("/static/")) { return; }
  event.respondWith(fetch(asked).then(function (answer) {
    if (answer.ok && !answer.redirected && !/attachment/.test(answer.headers.get("Content-Disposition") || "")) {
      var copy = answer.clone();
      caches.open(NAME).then(function (cache) { cache.put(asked, copy); });
    }
    return answer;
  }).catch(function () {
    return caches.match(asked).then(function (found) { return found || caches.match("/"); }).then(function (found) { return found || Response.error(); });
  }));
});
