// Sends each picture by itself, so that one that is not taken does not hold up the others, and says how far it is.
// Without this the form sends them all together, and the page says afterwards what came of them.
(() => {
  const form = document.querySelector('form');
  const input = form.querySelector('input');
  const said = document.querySelector('.said');
  const words = JSON.parse(form.dataset.words);
  const most = Number(form.dataset.most);
  const waiting = [];
  let busy = false;
  form.classList.add('live');
  if (location.pathname !== '/') history.replaceState(null, '', '/');

  function line(sentence, came) {
    const item = document.createElement('li');
    say(item, sentence, came);
    said.prepend(item);
    return item;
  }
  function say(item, sentence, came) {
    item.textContent = sentence;
    item.className = came === undefined ? '' : came ? 'came' : 'not';
  }
  // the same small pictures as in the app, drawn once at the end of the page
  function remark(one) {
    const box = document.createElement('span');
    box.className = 'remark';
    const drawn = document.querySelector('.picture').namespaceURI;
    const svg = document.createElementNS(drawn, 'svg');
    svg.setAttribute('viewBox', '0 0 168 72');
    svg.setAttribute('aria-hidden', 'true');
    svg.appendChild(document.createElementNS(drawn, 'use')).setAttribute('href', `#glance-${one.code}`);
    const what = document.createElement('b');
    what.textContent = one.sentence;
    box.append(svg, what, ` ${one.remedy}`);
    return box;
  }
  function next() {
    const one = waiting.shift();
    busy = one !== undefined;
    if (!busy) return;
    const body = new FormData();
    body.append('file', one.file, one.file.name);
    const request = new XMLHttpRequest();
    request.open('POST', '/');
    request.setRequestHeader('Accept', 'application/json');
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) {
        const share = Math.round((100 * event.loaded) / event.total);
        say(one.item, share < 100 ? `${one.file.name}: ${share} %` : words.looking.replace('{name}', one.file.name));
      }
    };
    request.onload = () => {
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { /* a page: the door has been closed */ }
      const first = (answer.lines || [])[0];
      if (first) {
        say(one.item, first.sentence, first.came);
        one.item.append(...(first.remarks || []).map(remark));
      }
      else say(one.item, answer.sentence || words.closed, false);
      next();
    };
    request.onerror = () => { say(one.item, words.lost.replace('{name}', one.file.name), false); next(); };
    request.send(body);
  }
  input.addEventListener('change', () => {
    [...input.files].forEach((file, number) => {
      if (number >= most) line(words.many.replace('{name}', file.name), false);
      else waiting.push({ file, item: line(words.waiting.replace('{name}', file.name)) });
    });
    input.value = '';
    if (!busy) next();
  });
})();
