/* Shows the bench's page without a network: the last copy, which says its age. Sends nothing. */
'use strict';
const KEPT = 'dueward-bench', WAIT = 4000;
const isKept = url => url.origin === location.origin &&
  (/^\/bench\/[^/]+$/.test(url.pathname) && url.pathname !== '/bench/enrol' || url.pathname.startsWith('/static/'));
addEventListener('install', () => self.skipWaiting());
addEventListener('activate', event => event.waitUntil(self.clients.claim()));
addEventListener('fetch', event => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || !isKept(url)) return;
  url.search = '';
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    const asked = fetch(event.request).then(answer => {
      if (answer.ok && !answer.redirected) event.waitUntil(cache.put(url.href, answer.clone()));
      return answer;
    });
    const late = new Promise(done => setTimeout(done, WAIT));
    const first = await Promise.race([asked.catch(() => null), late]);
    return first || (await cache.match(url.href)) || asked;
  })());
});
