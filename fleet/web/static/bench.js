/* Keeps marks until they are sent. Without this script the page's forms do the same, one by one. */
'use strict';
(() => {
  const page = document.querySelector('[data-bench]');
  if (!page || !window.indexedDB || !window.fetch) return;
  const site = page.dataset.bench, person = page.dataset.person;
  const path = `/bench/${encodeURIComponent(site)}/mark`;
  const say = document.querySelector('[data-network]'), told = document.querySelector('[data-told]');
  const box = document.querySelector('[data-waiting]'), list = box.querySelector('ul');
  const DAY = 864e5;
  let sending = false, again = false, refused = '', held = '';

  const opened = new Promise((done, fail) => {
    const asked = indexedDB.open('dueward', 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore('marks', { keyPath: 'key' });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  const kept = async (mode, act) => {
    const store = (await opened).transaction('marks', mode).objectStore('marks');
    return new Promise((done, fail) => {
      const asked = act(store);
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => fail(asked.error);
    });
  };
  const all = async () => (await kept('readonly', s => s.getAll())).sort((a, b) => a.at - b.at);
  const mine = async () => (await all()).filter(m => m.body.person === person && m.site === site);
  const words = task => task.replace(/-/g, ' ').replace(/^./, c => c.toUpperCase());
  const apart = page.dataset.clock ? Date.parse(page.dataset.clock) - Date.now() : 0;
  const clock = () => new Date(Date.now() + apart);
  const today = () => new Intl.DateTimeFormat('en-CA', { timeZone: page.dataset.zone }).format(clock());

  /* A page that was kept from another day puts marks for today, under keys of their own. */
  const isOld = () => page.dataset.on !== today();
  const reopen = () => document.querySelectorAll('form[data-daily][hidden]').forEach(f => { f.hidden = false; });

  const show = async () => {
    const rows = await all(), own = rows.filter(m => m.body.person === person && m.site === site);
    const others = rows.length - own.length, oldest = Math.min(...rows.map(m => m.at));
    list.replaceChildren(...own.filter(m => m.fault).map(m => {
      const line = document.createElement('li');
      line.append(`${m.body.property_number}, ${words(m.body.task)}, ${m.body.on}: ${m.fault} `);
      const drop = document.createElement('button');
      drop.className = 'quiet';
      drop.textContent = 'Leave it out';
      drop.onclick = async () => { await kept('readwrite', s => s.delete(m.key)); show(); };
      line.append(drop);
      return line;
    }));
    box.hidden = !list.children.length;
    box.querySelector('h2').textContent = 'These marks need attention';
    const waiting = own.filter(m => !m.fault).length, said = [];
    if (isOld()) said.push(`This page is of ${page.dataset.on}; marks are put for ${today()}.`);
    if (waiting) said.push(`${waiting} ${waiting === 1 ? 'mark' : 'marks'} waiting to be sent.`);
    if (waiting && clock() - oldest > DAY) said.push('Some wait for more than a day: find a network.');
    if (others) said.push(`${others} of somebody else ${others === 1 ? 'waits' : 'wait'} here, until that person signs in.`);
    if (refused) said.push(refused);
    say.textContent = said.join(' ');
    own.forEach(m => {
      const form = find(m);
      if (form && !form.dataset.waits) {
        form.dataset.waits = 'yes';
        form.querySelector('button').disabled = true;
        form.querySelector('button').prepend('\u2026 ');
      }
    });
  };
  const find = m => [...document.querySelectorAll('form[data-mark]')].find(f =>
    f.elements.property_number.value === m.body.property_number && f.elements.task.value === m.body.task);

  const tell = answer => {
    told.hidden = !answer.said;
    if (!answer.said) return;
    const head = document.createElement('h2'), lines = document.createElement('ul');
    head.textContent = answer.said;
    lines.append(...answer.cautions.map(c => Object.assign(document.createElement('li'), { textContent: c })));
    told.replaceChildren(head, lines);
    told.scrollIntoView({ block: 'nearest' });
  };
  const place = (m, answer) => {
    const old = document.querySelector(`[data-unit="${CSS.escape(m.body.property_number)}"]`);
    if (old && answer.unit) {
      const made = document.createElement('template');
      made.innerHTML = answer.unit;
      const row = made.content.firstElementChild;
      old.replaceWith(row);
      if (held === m.key && document.activeElement === document.body) (row.querySelector('form[data-mark]:not([hidden]) button.mark') || row.querySelector('button') || row).focus();
    }
    const count = document.querySelector('[data-count]');
    count.textContent = answer.open ? `${answer.open} ${answer.open === 1 ? 'mark' : 'marks'} to make today` : 'Everything of today is marked';
  };
  const send = async m => {
    const answer = await fetch(path, {
      method: 'POST', credentials: 'same-origin', redirect: 'error',
      headers: { 'Content-Type': 'application/json', Accept: 'application/json' },
      body: JSON.stringify({ ...m.body, sent_at: clock().toISOString() }),
    });
    if (answer.ok) {
      const said = await answer.json();
      await kept('readwrite', s => s.delete(m.key));
      refused = '';
      place(m, said);
      tell(said);
      return true;
    }
    if (answer.status === 401 || answer.status === 403) {
      refused = 'You are signed out here: sign in again to send them.';
      return false;
    }
    if (answer.status === 429 || answer.status >= 500) return false;
    const said = await answer.json().catch(() => ({}));
    m.fault = (said.details || ['it was refused'])[0];
    await kept('readwrite', s => s.put(m));
    return true;
  };
  const flush = async () => {
    if (sending) { again = true; return; }
    sending = true;
    try {
      do {
        again = false;
        for (const m of await mine()) {
          if (!m.fault && !(await send(m))) break;
          await show();
        }
      } while (again);
    } catch (error) { /* No network: they wait. */ } finally {
      sending = false;
      await show();
    }
  };
  /* Whoever signs out is told once of what waits, and leaves no page behind. */
  const leave = async (event, form) => {
    if (form.dataset.leaves) return;
    event.preventDefault();
    const waiting = (await mine()).length;
    if (waiting && !form.dataset.warned) {
      form.dataset.warned = 'yes';
      refused = `${waiting} not yet sent. Sign out again to leave them here; they are sent when you sign in next.`;
      show();
      return;
    }
    if (window.caches) await caches.delete('dueward-bench');
    form.dataset.leaves = 'yes';
    form.submit();
  };
  document.addEventListener('submit', async event => {
    const form = event.target;
    if (form.matches('[data-sign-out]')) { leave(event, form); return; }
    if (!form.matches('form[data-mark]')) return;
    event.preventDefault();
    if (form.dataset.waits) return;
    form.dataset.waits = 'yes';
    const body = Object.fromEntries(new FormData(form)), now = clock();
    delete body.form_token;
    body.person = person;
    body.noted_at = now.toISOString();
    if (isOld()) { body.on = today(); body.key = crypto.randomUUID(); }
    if (form.contains(document.activeElement)) held = body.key;
    await kept('readwrite', s => s.put({ key: body.key, site, at: now.getTime(), body }));
    form.querySelector('button').disabled = true;
    form.querySelector('button').prepend('\u2026 ');
    flush();
  });
  for (const event of ['online', 'pageshow']) addEventListener(event, flush);
  document.addEventListener('visibilitychange', () => { if (!document.hidden) flush(); });
  setInterval(flush, 30000);
  if (isOld()) reopen();
  if ('serviceWorker' in navigator) navigator.serviceWorker.register('/worker.js').catch(() => {});
  flush();
})();
