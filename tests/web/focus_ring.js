// Is the focus seen? `rest` remembers how each stop looks without it; each is compared when it gets it.
() => {
  // A ring that is not drawn, or has no colour, is none.
  const look = e => {
    const {outlineStyle, outlineWidth, outlineColor, boxShadow} = getComputedStyle(e);
    const isDrawn = outlineStyle !== 'none' && parseFloat(outlineWidth) > 0 && !/, 0\)$|transparent/.test(outlineColor);
    return `${isDrawn ? `${outlineStyle} ${outlineWidth} ${outlineColor}` : ''} ${boxShadow}`;
  };
  const looks = e => [e, ...(e.labels ?? [])].map(look).join();
  const atRest = new Map();
  const unseen = new Set();
  window.focusRing = {
    rest() {
      document.activeElement?.blur();
      const stops = document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]');
      for (const e of stops) if (e.tabIndex >= 0 && !e.disabled && e.checkVisibility()) atRest.set(e, looks(e));
      return atRest.size;
    },
    // Stops whose look was the same with the focus as without it, each once.
    unseen() {
      return [...unseen];
    },
  };
  document.addEventListener('focusin', ({target: e}) => {
    if (!atRest.has(e) || atRest.get(e) !== looks(e)) return;
    unseen.add(`the focus is not seen on ${e.tagName.toLowerCase()}${e.id && `#${e.id}`}${e.name ? ` named ${e.name}` : ''} "${e.textContent.trim().slice(0, 40)}"`);
  });
}
