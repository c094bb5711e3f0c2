// Keeps the page as fresh as the kettle, and confesses when it cannot. Without
// it every page can be read, answered and stopped. All text goes in as text.
(() => {
  'use strict';

  const silence = 5000; // ms without news until the numbers are not to be trusted
  const now = document.querySelector('main[data-live]');
  const by = id => document.getElementById(id);
  const fahrenheit = new URLSearchParams(location.search).get('unit') === 'F' || document.documentElement.dataset.scale === 'F';
  const sign = fahrenheit ? '°F' : '°C';
  const degrees = c => fahrenheit ? c * 9 / 5 + 32 : c;

  // words turns the temperatures in a sentence, by the rules of the server.
  const turned = (number, difference) => {
    const decimals = (number.split('.')[1] || '').length;
    const value = difference ? Number(number) * 9 / 5 : degrees(Number(number));
    let text = value.toFixed(decimals);
    if (number.startsWith('+') && value >= 0) text = '+' + text;
    return (/^-[0.]*$/.test(text) ? text.slice(1) : text) + ' ' + sign;
  };
  const words = sentence => {
    if (!fahrenheit || sentence.includes('but the element manages')) return sentence;
    return sentence.replace(/(-?\d+(?:\.\d+)?) to (-?\d+(?:\.\d+)?) °C/g, '$1 °C to $2 °C')
      .replace(/([+-]?\d+(?:\.\d+)?) °C( a minute| below| above| too hot| too cold)?/g, (_, number, rest) =>
        turned(number, number.startsWith('+') || Boolean(rest)) + (rest || ''));
  };

  const write = (element, text) => { if (element && element.textContent !== text) element.textContent = text; };
  const shown = (element, on) => { if (element && element.hidden === on) element.hidden = !on; };
  const clock = seconds => {
    const minutes = Math.floor(seconds / 60);
    return Math.floor(minutes / 60) + ':' + String(minutes % 60).padStart(2, '0');
  };

  // What was said after a press is said for a while only. It is put in anew: what stands
  // in a page from its beginning is not read aloud.
  const message = by('message');
  if (message) {
    const text = message.textContent;
    message.textContent = '';
    setTimeout(() => { message.textContent = text; }, 150);
    history.replaceState(null, '', location.pathname);
    setTimeout(() => { message.hidden = true; }, 15000);
  }

  if (!now) return;

  // The newest news. Two clocks: one stands still while a phone sleeps, the
  // other jumps when it is set.
  let heard = { steady: performance.now(), wall: Date.now() };
  let number = Number(now.dataset.number);
  let stale = !by('stale').hidden;
  const age = () => Math.max(performance.now() - heard.steady, Date.now() - heard.wall);

  const halt = on => {
    stale = on;
    now.classList.toggle('stale', on);
    shown(by('stale'), on);
    for (const b of document.querySelectorAll('[data-changes]')) b.disabled = on;
    if (!on) return; // the news tell the rest
    for (const p of [by('heat'), by('pump')]) if (p) write(p, p.dataset.unknown);
    by('heat').classList.remove('on');
    if (by('hot').hidden) write(by('hot'), by('hot').dataset.unknown);
    shown(by('hot'), true);
  };
  const look = () => {
    const ms = age();
    if (ms < silence) return;
    write(by('stale'), by('stale').dataset.words.replace('{n}', String(Math.round(ms / 1000))));
    if (!stale) halt(true);
    document.title = document.title.replace(/^(No news · )?/, 'No news · ');
  };

  const later = s => s.later ? s.later.waits ? '/waits' : '/not-begun' : '';
  const shape = s => s.batch ? s.batch.id + '/' + s.batch.state + later(s) + (s.batch.suggestion ? '/suggestion' : '') + (s.offer ? '/' + s.offer.texts.length + (s.offer.least_seconds === null ? '' : '/weighed') : '') : '/' + later(s);
  let leaving = false;
  const reload = () => {
    if (leaving || document.querySelector('#stop .held')) return; // no finger is lifted off STOP
    location.replace('/');
    leaving = true;
  };

  const temperature = s => {
    const c = s.probe.temperature_celsius;
    write(by('figure'), c === null ? '–' : degrees(c).toFixed(1));
    const hot = by('hot');
    write(hot, c === null ? hot.dataset.unknown : hot.dataset.hot + ' ' + Math.round(degrees(c)) + ' ' + sign);
    shown(hot, c === null || s.probe.hot);
    if (s.target_celsius !== null) write(by('target-figure'), degrees(s.target_celsius).toFixed(1) + ' ' + sign);
    shown(by('target'), s.target_celsius !== null);
    const { words: before, none } = by('reading').dataset;
    write(by('reading'), s.probe.fault === 'no reading' ? none : before + s.probe.fault + '.');
    shown(by('reading'), s.probe.fault !== '' && !s.heat_disabled);
    document.title = (s.simulated ? 'SIMULATED · ' : '') + (s.prompt && s.prompt.button ? 'You are needed · ' : '') +
      (c === null ? 'no reading' : degrees(c).toFixed(1) + ' ' + sign) + ' · mashward';
  };

  const rule = (id, which) => {
    shown(by(id), which !== null);
    for (const p of by(id).querySelectorAll('[data-rule]')) shown(p, p.dataset.rule === which);
  };

  const heat = s => {
    const on = s.heating || s.duty_ratio > 0 && s.heat_cut === null && s.heat_trip === null;
    const p = by('heat');
    write(p, on ? p.dataset.on.replace('{n}', String(Math.max(1, Math.round(s.duty_ratio * 100)))) : p.dataset.off);
    p.classList.toggle('on', on);
    const pump = by('pump');
    if (pump) write(pump, s.pump ? pump.dataset.on : pump.dataset.off);
    rule('cut', s.heat_cut);
    rule('trip', s.heat_trip);
  };

  const listed = (list, lines) => {
    if (list.children.length === lines.length && lines.every((l, i) => list.children[i].textContent === l.join(' '))) return false;
    list.replaceChildren(...lines.map(line => {
      const li = document.createElement('li');
      line.forEach((text, i) => {
        if (i) li.append(' ');
        const span = li.appendChild(document.createElement('span'));
        span.textContent = text;
        if (i === 0 && line.length > 1) span.className = 'when';
      });
      return li;
    }));
    return true;
  };

  const prompt = s => {
    const box = by('prompt'), p = s.prompt;
    if (!box) return;
    shown(box, p !== null);
    if (!p) return;
    const fresh = by('prompt-id').value !== p.id;
    by('prompt-id').value = p.id;
    write(by('prompt-text'), words(p.text));
    write(by('prompt-button'), p.button);
    by('prompt-button').value = p.wish;
    shown(by('prompt-button'), p.button !== '');
    shown(by('litres'), p.litres !== null);
    if (fresh) by('litres').querySelector('input').value = p.litres === null ? '' : p.litres.toFixed(1);
  };

  let said = null;
  const sentence = s => {
    const waiting = s.prompt && s.prompt.text === s.sentence;
    const text = words(waiting ? by('sentence').dataset.waiting + s.step.title + '.' : s.sentence);
    write(by('sentence'), text);
    write(by('next'), words(s.next));
    shown(by('next'), s.next !== '');
    if (s.late) write(by('late'), words('Against the plan: ' + s.late.text + '.'));
    shown(by('late'), s.late !== null);
    // For the ear: only when something else happens, not each second.
    const what = [shape(s), s.step && s.step.index, s.step && s.step.phase].join();
    if (said !== null && said !== what) write(by('spoken'), text);
    said = what;
  };

  const controls = s => {
    for (const b of document.querySelectorAll('[data-can]')) {
      let on = s.can.includes(b.value);
      if (b.dataset.until !== undefined) on = on && s.batch.clock_seconds < Number(b.dataset.until);
      shown(b, on);
    }
    for (const i of document.querySelectorAll('input.step')) i.value = s.step.index;
    if (by('told')) by('told').value = s.batch.told;
  };

  // The pictures come whole from the server: at most every two seconds, when
  // something has happened, else every twelve.
  let drawn = Date.now(), drawing = false;
  const draw = async urgent => {
    if (drawing || stale || document.hidden || Date.now() - drawn < (urgent ? 2000 : 12000)) return;
    drawing = true;
    drawn = Date.now();
    try {
      for (const id of ['strip', 'chart']) {
        const broad = matchMedia('(min-width: 60rem)').matches;
        const place = document.querySelector('#' + id + (broad ? ' .broad' : ' .narrow'));
        const answer = await fetch('/' + id + '.svg' + (broad ? '?wide=1' : '') + (fahrenheit ? (broad ? '&' : '?') + 'unit=F' : ''));
        const svg = new DOMParser().parseFromString(await answer.text(), 'image/svg+xml').documentElement;
        if (answer.ok && svg.nodeName === 'svg') place.replaceChildren(document.importNode(svg, true));
      }
      const list = await fetch('/needed' + (fahrenheit ? '?unit=F' : ''));
      const made = new DOMParser().parseFromString(await list.text(), 'text/html').body;
      if (list.ok) by('needed').replaceChildren(...made.childNodes);
      const soon = by('needed').querySelector('p');
      if (by('soon') && soon) by('soon').replaceChildren(...soon.cloneNode(true).childNodes);
      shown(by('needed'), list.ok && by('needed').children.length > 0);
    } catch { /* the next one will do; silence is told by the news, not by pictures */ }
    drawing = false;
  };

  const show = s => {
    if (shape(s) !== now.dataset.key || s.heat_disabled !== now.hasAttribute('data-disabled')) return reload();
    temperature(s);
    sentence(s);
    prompt(s);
    heat(s);
    listed(by('alarms'), s.alarms.map(a => ['Alarm: ' + words(a.said)]));
    shown(by('alarms'), s.alarms.length > 0);
    listed(by('over'), s.alarms_over.map(a => [words(a.said)]));
    shown(by('over'), s.alarms_over.length > 0);
    const unseen = Math.max(0, ...s.alarms.concat(s.alarms_over).filter(a => a.seen === null).map(a => a.number));
    by('seen-up-to').value = unseen;
    shown(by('seen'), unseen > 0);
    write(by('differs'), s.differs);
    shown(by('differs'), s.differs !== '');
    if (!s.batch) return;
    if (by('wort')) {
      listed(by('wort'), s.wort ? s.wort.words.map(t => [words(t)]) : []);
      shown(by('wort-box'), s.wort !== null);
    }
    if (by('clock')) write(by('clock'), clock(s.batch.clock_seconds));
    const f = s.forecast, finish = by('finish');
    if (f && finish) write(finish, (f.if_it_went_on_now ? finish.dataset.if + f.text : f.text[0].toUpperCase() + f.text.slice(1)) + '.');
    controls(s);
    const happened = listed(by('events'), s.events.map(e => [clock(e.at_seconds), words(e.text)]).reverse());
    if (by('strip')) draw(happened);
  };

  // News is a tick that we have not seen: a daemon that repeats itself has
  // nothing to say. With heat disabled there are no ticks.
  const take = event => {
    const s = JSON.parse(event.data);
    if (s.number === number && !s.heat_disabled) return;
    number = s.number;
    heard = { steady: performance.now(), wall: Date.now() };
    if (stale) halt(false);
    show(s);
  };

  // A browser waits longer and longer after failures, and gives up on an
  // answer that is no stream; a phone must be true again at once.
  let source = null, again = 0, opened = 0;
  const close = () => {
    clearTimeout(again);
    again = 0;
    if (source) source.close();
    source = null;
  };
  const open = () => {
    if (source) return;
    clearTimeout(again);
    again = 0;
    opened = Date.now();
    source = new EventSource('/api/v1/events');
    source.addEventListener('state', take);
    source.addEventListener('error', () => {
      close();
      again = setTimeout(open, 1000);
    });
  };
  const wake = () => {
    if (document.hidden) return close();
    look();
    open();
  };
  document.addEventListener('visibilitychange', wake);
  addEventListener('pageshow', wake);
  addEventListener('pagehide', close);
  setInterval(() => {
    if (document.hidden) return;
    look();
    // A way that leads nowhere gives no error for minutes.
    if (source && stale && Date.now() - opened > 8000) close();
    if (!source && !again) open();
  }, 250);
  open();
})();
