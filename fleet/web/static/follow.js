// How far is the long work? Asks for this page every two seconds, and shows what is new in its place.
(() => {
  const EVERY_MS = 2000;
  const here = document.querySelector('[data-follow]');
  const look = async () => {
    try {
      const answer = await fetch(location.href);
      const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
      const there = page.querySelector('[data-follow]');
      // It has ended, or nobody is signed in any more: the whole page is another one.
      if (!there) return location.reload();
      if (here.innerHTML !== there.innerHTML) here.replaceChildren(...there.childNodes);
    } catch {
      // Without a network nothing is new; it asks again.
    }
    setTimeout(look, EVERY_MS);
  };
  setTimeout(look, EVERY_MS);
})();
