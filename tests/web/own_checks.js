// What is wrong with the page that axe-core does not see? A list of sentences, each with the place.
// Runs after axe-core was given to the page: `axe.commons` knows what an element is called aloud.
() => {
  const found = new Set();
  const all = (chosen, within = document) => [...within.querySelectorAll(chosen)];
  const trimmed = text => text.replace(/\s+/g, ' ').trim();
  const place = e => {
    const mark = e.id ? `#${e.id}` : [...e.classList].map(name => `.${name}`).join('');
    const words = trimmed(e.textContent).slice(0, 40);
    return e.tagName.toLowerCase() + mark + (words && ` "${words}"`);
  };
  const fault = (what, e) => found.add(e ? `${what}: ${place(e)}` : what);
  const shown = chosen => all(chosen).filter(e => e.checkVisibility({visibilityProperty: true}));
  const hasWords = text => /[\p{L}\p{N}]/u.test(text);
  const isTiny = e => e.clientWidth <= 1 && e.clientHeight <= 1 && getComputedStyle(e).overflow !== 'visible';

  // The text nodes that a sighted reader gets, without those for screen readers alone.
  const seenTexts = e => {
    const walk = document.createTreeWalker(e, NodeFilter.SHOW_TEXT);
    const texts = [];
    while (walk.nextNode()) {
      const parent = walk.currentNode.parentElement;
      if (walk.currentNode.data.trim() && parent.checkVisibility() && !isTiny(parent)) texts.push(walk.currentNode);
    }
    return texts;
  };
  const seen = e => trimmed(seenTexts(e).map(node => node.data).join(' '));
  // A colour that is not a grey, or nothing.
  const hue = colour => {
    const [red, green, blue, alpha = 1] = (colour.match(/[\d.]+/g) ?? [0, 0, 0]).map(Number);
    return alpha > 0 && Math.max(red, green, blue) - Math.min(red, green, blue) > 40 ? colour : '';
  };
  // An element's hues: its ground, its letters (not those of links, which have one colour each).
  const huesOf = e => {
    const style = getComputedStyle(e);
    const isWritten = [...e.childNodes].some(node => node.nodeType === 3 && node.data.trim());
    return hue(style.backgroundColor) + (isWritten && !e.closest('a, button') ? hue(style.color) : '');
  };
  const target = e => {
    const boxes = [e, ...(e.labels ?? [])].map(part => part.getBoundingClientRect());
    return Math.max(...boxes.map(box => Math.min(box.width, box.height)));
  };
  const callName = e => trimmed(axe.commons.text.accessibleText(e)).toLowerCase();
  const told = e => (`${e.getAttribute('aria-describedby') ?? ''} ${e.getAttribute('aria-errormessage') ?? ''}`)
    .split(/\s+/).filter(Boolean);

  function status() {
    for (const e of shown('body *:not(svg, svg *, input, select, textarea, progress, meter)')) {
      if (!huesOf(e) || hasWords(seen(e))) continue;
      const box = e.closest('td, th, li, dd, dt, p, label, figcaption, a, button') ?? e.parentElement;
      const isSpot = e.matches('td, th') || Math.max(e.offsetWidth, e.offsetHeight) <= 64;
      if (isSpot && !hasWords(seen(box))) fault('a state told by colour or sign alone, without words', box);
    }
    for (const table of tables()) {
      const first = new Map();
      for (const cell of all('tbody td', table)) {
        const hues = [cell, ...all('*', cell)].map(huesOf).join('');
        const alike = `${cell.cellIndex} ${seen(cell).replace(/\d/g, '0')}`;
        if (!first.has(alike)) first.set(alike, hues);
        else if (first.get(alike) !== hues) fault('cells that read alike differ by colour alone', cell);
      }
    }
  }

  function tables() {
    return shown('table:not([role=presentation], [role=none])');
  }

  function tableParts() {
    for (const table of tables()) {
      if (!table.caption?.checkVisibility() || !hasWords(table.caption.textContent)) fault('a table without a caption', table);
      for (const cell of all('th', table)) {
        if (!/^(row|col)(group)?$/.test(cell.scope)) fault('a header cell without scope', cell);
      }
      const [head, ...body] = table.rows;
      if (head && !head.querySelector('th')) fault('header cells that are td', head);
      for (const cell of all('thead td', table)) {
        if (hasWords(cell.textContent)) fault('header cells that are td', cell);
      }
      for (const row of body) {
        if (row.cells.length > 1 && !row.querySelector('th')) fault('a row without a header cell', row);
      }
    }
  }

  function headings() {
    if (!shown('h1').length) fault('no h1 on the page');
  }

  function errors() {
    const fields = all('[aria-invalid=true]');
    const summed = new Set(shown('a[href^="#"]').map(link => link.getAttribute('href').slice(1)));
    for (const field of fields) {
      const texts = told(field).map(id => document.getElementById(id)?.textContent ?? '');
      if (!texts.some(hasWords)) fault('a field in error without a text tied to it (aria-describedby)', field);
      if (!summed.has(field.id)) fault('no link in a summary leads to the field in error', field);
    }
    if (fields.length && !document.title.startsWith('Error:')) fault('the title of a page with errors begins "Error:"');
    const isMessage = e => hasWords(e.textContent) && !e.querySelector('input, select, textarea, a')
      && !e.closest('a, [role=alert], [class*=summary]') && !e.parentElement.closest('[class*=error]:not(:has(input, select, textarea))');
    for (const text of shown('form :is([class*=error], p, span, div)').filter(isMessage)) {
      if (!text.matches('[class*=error]') && !/^Error:/.test(trimmed(text.textContent))) continue;
      const ids = [text, ...all('[id]', text)].map(e => e.id);
      const up = text.parentElement.closest('p, span, div')?.id;
      const isTied = fields.some(field => told(field).some(id => ids.includes(id) || (up && id === up)));
      if (!isTied) fault('an error text tied to no field with aria-invalid', text);
    }
  }

  function names() {
    const ids = all('[id]').map(e => e.id);
    new Set(ids.filter((id, at) => ids.indexOf(id) !== at)).forEach(id => fault(`the id "${id}" stands twice`));
    const leads = new Map();
    for (const link of shown('a[href]').filter(e => !e.closest('[aria-hidden=true]'))) {
      const name = callName(link);
      leads.set(name, (leads.get(name) ?? new Set()).add(link.href));
    }
    for (const [name, targets] of leads) {
      if (targets.size > 1) fault(`"${name}" is the text of links to ${targets.size} places`);
    }
    for (const list of shown('table, ul, ol, dl')) {
      const called = all(':is(tr, li, dd) button', list).filter(e => e.checkVisibility()).map(callName);
      new Set(called.filter((name, at) => called.indexOf(name) !== at))
        .forEach(name => fault(`"${name}" is the text of buttons in several rows`));
    }
  }

  function targets() {
    for (const e of shown('table :is(a[href], button, input, select, textarea, summary)')) {
      if (target(e) < 24) fault('a target under 24 px in a table', e);
    }
    for (const e of shown('.mark:is(a, button, input, label, summary)')) {
      if (target(e) < 44) fault('a mark button under 44 px', e);
    }
  }

  function boxes() {
    for (const e of shown('body *:not(svg, svg *, input, select, textarea)')) {
      const {overflowX, overflowY, fontSize} = getComputedStyle(e);
      const over = {x: e.scrollWidth > e.clientWidth + 1, y: e.scrollHeight > e.clientHeight + parseFloat(fontSize) / 2};
      const does = way => (over.x && way.test(overflowX)) || (over.y && way.test(overflowY));
      if (does(/auto|scroll/)) {
        const isReached = e.tabIndex >= 0 && e.hasAttribute('tabindex');
        if (!isReached || e.getAttribute('role') !== 'region' || !callName(e)) {
          fault('a scroll area without tabindex=0, role=region and a name', e);
        }
      }
      if (does(/hidden|clip/) && !isTiny(e) && seen(e)) fault('text cut off', e);
    }
  }

  function sideways() {
    const wide = document.documentElement.clientWidth;
    if (document.scrollingElement.scrollWidth <= wide) return;
    // What stands in a box that scrolls or cuts does not widen the page, unless it is placed by an outer one.
    const isHeld = e => {
      const up = getComputedStyle(e).position === 'absolute' ? e.offsetParent : e.parentElement;
      if (!up || up === document.body || up === document.documentElement) return false;
      return getComputedStyle(up).overflowX !== 'visible' || isHeld(up);
    };
    const right = e => e.getBoundingClientRect().right;
    const culprits = shown('body, body *').filter(e => right(e) > wide && !isHeld(e)).sort((a, b) => right(b) - right(a));
    fault(`the page scrolls sideways at ${wide} px`, culprits[0]);
  }

  function motion() {
    const isMoving = document.getAnimations().some(one => one.playState === 'running');
    if (isMoving && matchMedia('(prefers-reduced-motion)').matches) fault('something moves for a reader who asked for no motion');
  }

  axe.setup();
  for (const check of [status, tableParts, headings, errors, names, targets, boxes, sideways, motion]) check();
  axe.teardown();
  return [...found];
}
