// Is the focus seen? `rest` remembers how each stop looks without it, `stop` compares the one that has it.
() => {
  // A ring that is not drawn, or has no colour, is none.
  const look = e => {
    const {outlineStyle, outlineWidth, outlineColor, boxShadow} = getComputedStyle(e);
    const isDrawn = outlineStyle !== 'none' && parseFloat(outlineWidth) > 0 && !/, 0\)$|transparent/.test(outlineColor);
    return `${isDrawn ? `${outlineStyle} ${outlineWidth} ${outlineColor}` : ''} ${boxShadow}`;
  };
  const looks = e => [e, ...(e.labels ?? [])].map(look).join();
  const atRest = new Map();
  window.focusRing = {
    rest() {
      document.activeElement?.blur();
      const stops = document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]');
      for (const e of stops) if (e.tabIndex >= 0 && !e.disabled && e.checkVisibility()) atRest.set(e, looks(e));
      return atRest.size;
    },
    stop() {
      const e = document.activeElement;
      if (!atRest.has(e) || atRest.get(e) !== looks(e)) return null;
      return `the focus is not seen on ${e.tagName.toLowerCase()}${e.id && `#${e.id}`}${e.name ? ` named ${e.name}` : ''} "${e.textContent.trim().slice(0, 40)}"`;
    },
  };
}
