'use strict';
(() => {
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($('data').textContent);
  const named = (kind) => new Map([...document.querySelectorAll('script.' + kind)].map((el) => [el.dataset.capture, el]));
  const stored = named('stored'), figures = named('figures'), known = new Map();
  // figuresOf reads the figures of a shot when they are asked for.
  function figuresOf(name) {
    if (!known.has(name)) known.set(name, figures.has(name) ? JSON.parse(figures.get(name).textContent) : null);
    return known.get(name);
  }
  for (const el of document.querySelectorAll('.scripted')) el.hidden = false;
  if (!stored.size) {
    $('waveform').hidden = true;
    for (const el of document.querySelectorAll('nav .scripted, .pick')) el.hidden = true;
  }

  // Numbers for people.
  const prefixes = [['T', 1e12], ['G', 1e9], ['M', 1e6], ['k', 1e3], ['', 1], ['m', 1e-3], ['µ', 1e-6], ['n', 1e-9], ['p', 1e-12], ['f', 1e-15]];
  const units = { ohm: 'Ω', 1: '' };
  const minus = (text) => text.replace('-', '−');
  // show writes a number with its unit: with so many digits, or to the second digit of
  // its expanded uncertainty, which follows.
  function show(x, unit, digits = 4, u = null) {
    if (x === null || x === undefined || !Number.isFinite(x)) return '-';
    if (x === 0 && !u) return ('0 ' + (units[unit] ?? unit)).trim();
    if (unit === 'V/s' || unit === 'A/s') { x *= 1e-9; u = u && u * 1e-9; unit = unit[0] + '/ns'; } else if (unit === 'K') { x -= 273.15; unit = '°C'; }
    let [name, size] = ['', 1];
    if (!['1', '°C', 'V/ns', 'A/ns'].includes(unit)) [name, size] = prefixes.find((p) => Math.max(Math.abs(x), u ?? 0) >= p[1] * 0.9999995) ?? prefixes.at(-1);
    if ((unit === 'V' || unit === 'A') && Math.abs(x) >= 0.5 && Math.abs(x) < 1e4) [name, size] = ['', 1];
    const place = u ? 1 - Math.floor(Math.log10(2 * u / size)) : digits - 1 - Math.floor(Math.log10(Math.abs(x / size)));
    const write = (y) => minus((y / size).toFixed(Math.min(Math.max(place, 0), 12)));
    return (write(x) + (u ? '±' + write(2 * u) : '') + ' ' + name + (units[unit] ?? unit)).trim();
  }

  // split cuts a symbol into text and subscripts, as the tables have them.
  const split = (text) => text.split(/_((?:\([^)]*\)|[^\s/=:)])+)/).map((t, k) => [t, k % 2 === 1]).filter(([t]) => t !== '');
  function letters(el, text) {
    el.replaceChildren(...split(text).map(([t, sub]) => { if (!sub) return t; const e = document.createElement('sub'); e.textContent = t; return e; }));
    return el;
  }

  // Waveforms: every sample where it is stored, least and largest of groups elsewhere.
  function codes(text) {
    const raw = atob(text), bytes = new Uint8Array(raw.length);
    for (let k = 0; k < raw.length; k++) bytes[k] = raw.charCodeAt(k);
    return new Int16Array(bytes.buffer);
  }
  const none = -32768;
  class Trace {
    constructor(t) {
      Object.assign(this, t);
      this.full = t.full.map((s) => ({ at: s.at, y: codes(s.codes) }));
      this.least = codes(t.least); this.most = codes(t.most);
    }
    value(code) { return code === none ? NaN : this.offset + this.scale * code; }
    // sample returns sample number k, NaN where it is not stored.
    sample(k) {
      let s = this.last;
      if (!s || k < s.at || k >= s.at + s.y.length) s = this.last = this.full.find((f) => k >= f.at && k < f.at + f.y.length);
      return s ? this.value(s.y[k - s.at]) : NaN;
    }
    // at reads the straight line between samples at time t.
    at(t) {
      const x = (t - this.t0) / this.dt, k = Math.floor(x), a = this.sample(k);
      return x === k ? a : a + (this.sample(k + 1) - a) * (x - k);
    }
    // span returns least and largest value between two times, null of nothing.
    span(from, to) {
      let low = Infinity, high = -Infinity;
      const take = (y) => { if (y === y) { if (y < low) low = y; if (y > high) high = y; } };
      const a = Math.max(0, Math.ceil((from - this.t0) / this.dt)), b = Math.min(this.n - 1, Math.floor((to - this.t0) / this.dt));
      let covered = this.every === 0;
      for (const s of this.full) {
        const x = Math.max(a, s.at), y = Math.min(b, s.at + s.y.length - 1);
        for (let k = x; k <= y; k++) take(this.value(s.y[k - s.at]));
        covered ||= a >= s.at && b < s.at + s.y.length;
      }
      if (!covered) for (let g = Math.floor(a / this.every); g <= Math.floor(b / this.every) && g < this.least.length; g++) { take(this.value(this.least[g])); take(this.value(this.most[g])); }
      return low <= high ? [low, high] : null;
    }
  }
  const parsed = new Map();
  function waveforms(name) {
    if (!parsed.has(name)) {
      const w = JSON.parse(stored.get(name).textContent);
      const byRole = (list) => new Map(list.map((t) => [t.role, new Trace(t)]));
      parsed.set(name, { traces: byRole(w.traces), raw: byRole(w.raw) });
      if (parsed.size > 40) parsed.delete(parsed.keys().next().value);
    }
    return parsed.get(name);
  }

  // energy integrates the product of straight lines exactly between all sample
  // instants of both; the current is read later by lag.
  function energy(w, from, to, lag) {
    const v = w.traces.get('vds'), i = w.traces.get('id');
    if (!v || !i || !(to > from)) return NaN;
    const times = [from, to];
    for (const [tr, shift] of [[v, 0], [i, lag]]) {
      for (let k = Math.ceil((from + shift - tr.t0) / tr.dt); tr.t0 + k * tr.dt - shift < to; k++) times.push(tr.t0 + k * tr.dt - shift);
    }
    times.sort((a, b) => a - b);
    let sum = 0, t0 = times[0], v0 = v.at(t0), i0 = i.at(t0 + lag);
    for (const t of times.slice(1)) {
      const v1 = v.at(t), i1 = i.at(t + lag);
      sum += (t - t0) * (2 * v0 * i0 + v0 * i1 + v1 * i0 + 2 * v1 * i1) / 6;
      [t0, v0, i0] = [t, v1, i1];
    }
    return sum;
  }

  // State of the view. Times are on the record's own axis, or from the edge that
  // overlays are aligned at.
  const state = { shot: '', others: [], from: 0, to: 1, rulers: [null, null], align: '', focus: '', raw: false, lag: 0, end: 0 };
  const origin = (name) => {
    if (!state.align) return 0;
    const q = figuresOf(name).q[state.align === 'turn-off' ? 'e_off' : 'e_on'];
    const near = q ? q[2] : null;
    const events = figuresOf(name).events.filter((e) => e.edge === state.align);
    if (!events.length) return 0;
    return near === null ? events[0].t : events.reduce((a, b) => (Math.abs(b.t - near) < Math.abs(a.t - near) ? b : a)).t;
  };
  const names = () => [state.shot, ...state.others.filter((n) => n !== state.shot)];
  function extent() {
    let [a, b] = [Infinity, -Infinity];
    for (const name of names()) for (const t of waveforms(name).traces.values()) {
      const o = origin(name);
      a = Math.min(a, t.t0 - o); b = Math.max(b, t.t0 + (t.n - 1) * t.dt - o);
    }
    return [a, b];
  }
  function set(from, to) {
    const [a, b] = extent(), least = 2 * Math.min(...[...waveforms(state.shot).traces.values()].map((t) => t.dt));
    const width = Math.min(Math.max(to - from, least), b - a);
    from = Math.min(Math.max(from, a), b - width);
    state.from = from; state.to = from + width;
    draw();
  }

  // Panels.
  const canvas = $('view'), pen = canvas.getContext('2d');
  const panels = [
    { name: 'v', symbol: data.names.vds, unit: 'V', roles: ['vds', 'v_other'], color: '--v' }, { name: 'i', symbol: data.names.id, unit: 'A', roles: ['id', 'i_other', 'il'], color: '--i' },
    { name: 'g', symbol: data.names.vgs, unit: 'V', roles: ['vgs', 'vgs_other'], color: '--g' }, { name: 'p', symbol: 'p', unit: 'W', color: '--p' }, { name: 'E', symbol: 'E', unit: 'J', color: '--e' },
  ];
  const left = 66, right = 12, top = 20, foot = 34, gap = 8;
  const dashes = [[], [7, 3], [2, 2], [7, 2, 2, 2]];
  let size = { w: 0, h: 0 }, areas = [], pointer = null, drag = null;
  const px = (t) => left + (t - state.from) / (state.to - state.from) * (size.w - left - right);
  const time = (x) => state.from + (x - left) / (size.w - left - right) * (state.to - state.from);
  let colours = new Map();
  function css(name) {
    if (!colours.has(name)) { probe.style.color = 'var(' + name + ')'; colours.set(name, getComputedStyle(probe).color); }
    return colours.get(name);
  }
  const probe = document.createElement('span');
  probe.hidden = true; document.body.append(probe);
  function recolour() { colours = new Map(); draw(); }
  // write writes a symbol with its subscripts at the left of x, or ends it there.
  function write(text, x, y) {
    const font = pen.font, small = font.replace('11px', '8.5px'), parts = split(text);
    const width = (sub, t) => { pen.font = sub ? small : font; return pen.measureText(t).width; };
    if (pen.textAlign === 'right') x -= parts.reduce((sum, [t, sub]) => sum + width(sub, t), 0);
    const align = pen.textAlign;
    pen.textAlign = 'left';
    pen.strokeStyle = css('--paper'); pen.lineWidth = 3; pen.lineJoin = 'round'; // kept clear of traces
    for (const [t, sub] of parts) { const w = width(sub, t); pen.strokeText(t, x, y + (sub ? 3 : 0)); pen.fillText(t, x, y + (sub ? 3 : 0)); x += w; }
    pen.font = font; pen.textAlign = align;
  }

  // power is the least and largest product at the samples of v that are stored.
  function power(v, i, from, to) {
    let low = Infinity, high = -Infinity;
    for (const s of v.full) {
      const a = Math.max(s.at, Math.ceil((from - v.t0) / v.dt)), b = Math.min(s.at + s.y.length - 1, Math.floor((to - v.t0) / v.dt));
      for (let k = a; k <= b; k++) { const y = v.value(s.y[k - s.at]) * i.at(v.t0 + k * v.dt); if (y < low) low = y; if (y > high) high = y; }
    }
    return low <= high ? [low, high] : null;
  }
  // running is the energy from the start of a measured window on, as far as all
  // samples are stored and to three times its length.
  function running(name, key) {
    const w = waveforms(name), q = figuresOf(name).q[key];
    w.running ??= {};
    if (w.running[key]) return w.running[key];
    const steps = [];
    if (q && q[2] !== null) {
      steps.push([q[2], 0]);
      for (let x = q[2], n = 0; n < 240; n++) {
        const next = x + (q[3] - q[2]) / 80, e = energy(w, x, next, 0);
        if (!(e === e)) break;
        steps.push([next, steps.at(-1)[1] + e]);
        x = next;
      }
    }
    return (w.running[key] = steps);
  }
  function between(steps, x) {
    const n = steps.findIndex((s) => s[0] >= x);
    if (n < 1) return NaN;
    const [a, b] = [steps[n - 1], steps[n]];
    return a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
  }
  // curves lists what a panel shows: functions that give the span of a stretch.
  function curves(panel) {
    const out = [];
    names().forEach((name, k) => {
      const w = waveforms(name), o = origin(name);
      if (panel.roles) {
        panel.roles.forEach((role, r) => {
          const t = w.traces.get(role);
          if (t) out.push({ span: (a, b) => t.span(a + o, b + o), at: (x) => t.at(x + o), dt: t.dt, first: t.t0 - o, dash: k, other: r > 0, label: data.names[role] ?? role, name });
          const before = state.raw && w.raw.get(role);
          if (before) out.push({ span: (a, b) => before.span(a + o, b + o), at: (x) => before.at(x + o), dt: before.dt, first: before.t0 - o, dash: k, raw: true, label: (data.names[role] ?? role) + ' raw', name });
        });
        return;
      }
      const v = w.traces.get('vds'), i = w.traces.get('id');
      if (!v || !i) return;
      if (panel.name === 'p') {
        out.push({ span: (a, b) => power(v, i, a + o, b + o), at: (x) => v.at(x + o) * i.at(x + o), dt: Math.min(v.dt, i.dt), first: v.t0 - o, dash: k, label: 'v·i', name });
        return;
      }
      for (const key of ['e_off', 'e_on']) {
        const steps = running(name, key);
        if (steps.length > 1) out.push({ points: steps.map(([t, e]) => [t - o, e]), at: (x) => between(steps, x + o), dash: k, label: key === 'e_off' ? 'E off' : 'E on', name });
      }
    });
    return out;
  }
  // strokes turns a curve into points with least and largest value: samples where
  // they are few, columns of the screen where they are many.
  function strokes(c) {
    if (c.points) return c.points.filter((p) => p[0] >= state.from && p[0] <= state.to).map((p) => [p[0], p[1], p[1]]);
    const width = size.w - left - right;
    let out = [], stored = false;
    if ((state.to - state.from) / c.dt <= 2 * width) {
      const k1 = Math.ceil((state.to - c.first) / c.dt) + 1;
      for (let k = Math.floor((state.from - c.first) / c.dt) - 1; k <= k1; k++) {
        const t = c.first + k * c.dt, y = c.at(t);
        if (y === y) { stored = true; out.push([t, y, y]); continue; }
        const s = c.span(t - c.dt / 2, t + c.dt / 2); // of its group, where no sample is stored
        if (s) out.push([t, s[0], s[1]]);
      }
    }
    if (stored) return out;
    out = [];
    out.spans = true;
    for (let x = 0; x < width; x++) {
      const a = time(left + x), b = time(left + x + 1), s = c.span(a, b);
      if (s) out.push([(a + b) / 2, s[0], s[1]]);
    }
    return out;
  }
  // ticks returns round values in steps that are round too, and how to write them.
  function ticks(low, high, n, scale) {
    const raw = (high - low) / n, mag = 10 ** Math.floor(Math.log10(raw)), m = [1, 2, 5, 10].find((f) => f * mag >= raw) * mag, at = [];
    for (let k = Math.ceil(low / m); k * m <= high; k++) at.push(k * m);
    const places = Math.min(Math.max(0, Math.ceil(-Math.log10(m / scale) - 1e-9)), 9);
    return { at, write: (y) => minus((y / scale).toFixed(places)) };
  }

  // draw asks for the next frame to be drawn, once.
  let asked = false;
  function draw() {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => { asked = false; paint(); });
  }
  let frames = 0; // drawn so far, for who counts
  function paint() {
    if (!state.shot) return;
    canvas.dataset.frames = ++frames;
    const ratio = window.devicePixelRatio || 1, box = canvas.getBoundingClientRect();
    size = { w: Math.max(box.width, 200), h: Math.max(box.height, 200) };
    const across = Math.round(size.w * ratio), down = Math.round(size.h * ratio);
    if (canvas.width !== across || canvas.height !== down) { canvas.width = across; canvas.height = down; } // else it keeps its store
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = css('--paper'); pen.fillRect(0, 0, size.w, size.h);
    pen.font = '11px "Liberation Sans", Arial, sans-serif';
    const shown = panels.map((p) => ({ p, c: curves(p) })).filter((x) => x.c.length);
    const height = (size.h - top - foot - gap * (shown.length - 1)) / shown.length;
    areas = shown.map((x, k) => ({ ...x, y0: top + k * (height + gap), y1: top + k * (height + gap) + height }));
    const [pre, scale] = prefixes.find((p) => Math.max(Math.abs(state.from), Math.abs(state.to)) >= p[1]) ?? prefixes.at(-1);
    const grid = ticks(state.from, state.to, Math.max(2, Math.floor((size.w - left - right) / 110)), scale);
    areas.forEach((a) => panel(a, grid.at));
    if (areas.length) windowNames();
    // Time axis.
    pen.fillStyle = css('--ink'); pen.textAlign = 'center';
    for (const t of grid.at) pen.fillText(grid.write(t), px(t), size.h - foot + 14);
    pen.textAlign = 'right';
    pen.fillText((state.align ? 'time from the ' + state.align : 'time') + ' / ' + pre + 's', size.w - right, size.h - 6);
    state.rulers.forEach((t, k) => { if (t !== null && t >= state.from && t <= state.to) line(px(t), top, px(t), size.h - foot, css('--ink'), [6, 3], 1.2, String(k + 1)); });
    if (pointer !== null && pointer >= state.from && pointer <= state.to) line(px(pointer), top, px(pointer), size.h - foot, css('--line'), [], 0.8);
    if (drag && !drag.pan && drag.ruler === undefined && drag.at !== undefined) {
      pen.globalAlpha = 0.25; pen.fillStyle = css('--link'); pen.fillRect(Math.min(drag.x, drag.at), top, Math.abs(drag.at - drag.x), size.h - top - foot); pen.globalAlpha = 1;
    }
    readout();
    trial();
    keep();
    if (said) { said = false; say(); }
  }
  // say tells a screen reader what a key has shown.
  let said = false;
  function say() {
    const view = show(state.from, 's') + ' to ' + show(state.to, 's');
    const inside = pointer !== null && pointer >= state.from && pointer <= state.to;
    $('said').textContent = view + (inside ? '; at ' + show(pointer, 's', 6) + ': ' + areas.flatMap((a) => a.c.map((c) => c.label.replaceAll('_', ' ') + ' ' + shownAt(c, a.p.unit))).join(', ') : '');
  }
  function line(x0, y0, x1, y1, color, dash, width, label) {
    pen.strokeStyle = color; pen.lineWidth = width; pen.setLineDash(dash);
    pen.beginPath(); pen.moveTo(x0, y0); pen.lineTo(x1, y1); pen.stroke(); pen.setLineDash([]);
    if (label) { pen.fillStyle = color; pen.textAlign = 'left'; pen.fillText(label, x0 + 3, y0 + 10); }
  }
  function panel(a, grid) {
    const all = a.c.map((c) => ({ c, s: strokes(c) }));
    let low = Infinity, high = -Infinity;
    for (const { s } of all) for (const p of s) { low = Math.min(low, p[1]); high = Math.max(high, p[2]); }
    if (!(low <= high)) { low = 0; high = 1; }
    const pad = (high - low || Math.abs(high) || 1) * 0.06;
    low -= pad; high += pad;
    a.py = (y) => a.y1 - (y - low) / (high - low) * (a.y1 - a.y0);
    pen.save();
    pen.beginPath(); pen.rect(left, a.y0, size.w - left - right, a.y1 - a.y0); pen.clip();
    windows(a);
    const [pre, scale] = a.p.unit === 'V' || a.p.unit === 'A' ? ['', 1] : prefixes.find((p) => Math.max(Math.abs(low), Math.abs(high)) >= p[1]) ?? prefixes.at(-1);
    const grades = ticks(low, high, Math.max(3, Math.floor((a.y1 - a.y0) / 30)), scale);
    pen.strokeStyle = css('--grid'); pen.lineWidth = 0.7; pen.lineJoin = 'bevel';
    pen.beginPath();
    for (const t of grid) { pen.moveTo(px(t), a.y0); pen.lineTo(px(t), a.y1); }
    for (const y of grades.at) { pen.moveTo(left, a.py(y)); pen.lineTo(size.w - right, a.py(y)); }
    pen.stroke();
    for (const { c, s } of all) {
      pen.strokeStyle = c.raw ? css('--line') : css(a.p.color); pen.lineWidth = c.raw ? 0.8 : c.other ? 1 : 1.5;
      pen.setLineDash(dashes[c.dash % dashes.length]);
      const step = Math.max(3 * c.dt, 3 * (state.to - state.from) / (size.w - left - right));
      if (s.spans && c.dash === 0) { band(a, s, step, pen.lineWidth / 2, pen.strokeStyle); continue; }
      pen.beginPath();
      s.forEach((p, k) => {
        const x = px(p[0]);
        if (k === 0 || (!c.points && p[0] - s[k - 1][0] > step)) pen.moveTo(x, a.py(p[1])); else pen.lineTo(x, a.py(p[1])); // nothing is drawn over a gap
        if (p[2] !== p[1]) pen.lineTo(x, a.py(p[2]));
      });
      pen.stroke(); pen.setLineDash([]);
      if (!s.spans && !c.points && (state.to - state.from) / c.dt < (size.w - left - right) / 9) for (const p of s) if (p[1] === p[2]) { pen.fillStyle = pen.strokeStyle; pen.fillRect(px(p[0]) - 1.5, a.py(p[1]) - 1.5, 3, 3); }
    }
    levels(a);
    marks(a);
    tell(all.filter(({ c, s }) => c.name === state.shot && !c.raw && s.length), a);
    pen.restore();
    pen.strokeStyle = css('--line'); pen.lineWidth = 0.8; pen.strokeRect(left, a.y0, size.w - left - right, a.y1 - a.y0);
    pen.fillStyle = css('--ink'); pen.textAlign = 'right';
    for (const y of grades.at) pen.fillText(grades.write(y), left - 5, a.py(y) + 4);
    pen.save();
    pen.translate(16, (a.y0 + a.y1) / 2); pen.rotate(-Math.PI / 2); pen.textAlign = 'center';
    write(a.p.symbol + ' / ' + pre + a.p.unit, 0, 0);
    pen.restore();
  }
  // tell names the traces of a panel with more than one, at their ends.
  function tell(own, a) {
    if (own.length < 2) return;
    pen.fillStyle = css('--ink'); pen.textAlign = 'right';
    for (const { c, s } of own) {
      const p = s.at(-1), y = a.py(p[2]);
      write(c.label, Math.min(px(p[0]), size.w - right) - 4, y < a.y0 + 18 ? a.py(p[1]) + 14 : y - 5);
    }
  }
  // band fills between least and largest of columns, each drawn to meet the one before:
  // a browser fills one area many times faster than it strokes as many lines.
  function band(a, s, step, half, color) {
    const fill = (points) => {
      pen.beginPath();
      for (const [x, low] of points) pen.lineTo(x, a.py(low) + half);
      for (const [x, , high] of points.reverse()) pen.lineTo(x, a.py(high) - half);
      pen.fill();
    };
    pen.fillStyle = color;
    let points = [];
    s.forEach((p, k) => {
      const before = s[k - 1], apart = k > 0 && p[0] - before[0] > step; // nothing is drawn over a gap
      if (apart) { fill(points); points = []; }
      const x = px(p[0]), low = k > 0 && !apart ? Math.min(p[1], before[2]) : p[1], high = k > 0 && !apart ? Math.max(p[2], before[1]) : p[2];
      points.push([x - half, low, high], [x + half, low, high]);
    });
    fill(points);
  }
  // windows shades where the chosen quantity, or else the energies, were read.
  const read = (key) => { const q = figuresOf(state.shot).q[key]; return q && q[2] !== null ? q : null; };
  const symbol = (key) => data.columns.find((c) => c.key === key)?.symbol ?? key;
  const inView = () => (state.focus ? [state.focus] : ['e_off', 'e_on']).filter(read);
  function windows(a) {
    const o = origin(state.shot);
    for (const key of inView()) {
      const q = read(key), x0 = px(q[2] - o), x1 = px(q[3] - o);
      pen.fillStyle = css('--window'); pen.fillRect(x0, a.y0, Math.max(x1 - x0, 1.5), a.y1 - a.y0);
      for (const x of [x0, x1]) line(x, a.y0, x, a.y1, css('--line'), [], 0.8); // the shade alone is too faint to tell
    }
  }
  // windowNames tells above the panels what the shades are of.
  function windowNames() {
    const o = origin(state.shot);
    let free = left; // from where on there is room
    pen.fillStyle = css('--ink'); pen.textAlign = 'left';
    for (const key of inView().sort((a, b) => read(a)[2] - read(b)[2])) {
      const q = read(key), x0 = px(q[2] - o), text = symbol(key) + ': ' + data.texts[q[4]], width = pen.measureText(text).width;
      const x = Math.max(Math.min(x0, size.w - right - width), free);
      if (px(q[3] - o) < left || x0 > size.w - right || x - x0 > 150) continue;
      write(text, x, top - 6);
      free = x + width + 10;
    }
  }
  // bases are the values at 0 and 100 % of a panel's levels at an edge.
  function bases(name, edge) {
    const q = figuresOf(state.shot).q, value = (key) => (q[key] ? q[key][0] : NaN);
    if (name === 'g') return [value('vgs_low'), value('vgs_high')];
    return [0, { v: value('v_bus_' + edge), i: value('i_' + edge) }[name] ?? NaN];
  }
  // percents are the levels of a definition that are of a panel's trace: "g90-v10", or
  // "10-90" of the one trace that the quantity is of.
  function percents(key, text, name) {
    const own = /^t_[a-z]+_([vi])|^d([vi])dt/.exec(key), bare = /^(\d+)-(\d+)$/.exec(text.split(/[.:]/)[0]);
    if (own && bare) return (own[1] ?? own[2]) === name ? bare.slice(1).map(Number) : [];
    return [...text.matchAll(/\b([vi]|g(?:ate)?) ?(\d+(?:\.\d+)?)\b/g)].filter((m) => m[1][0] === name && Number(m[2]) <= 100).map((m) => Number(m[2]));
  }
  // levels draws the bases of the percentages, and the levels of the definition, each
  // over its edge.
  function levels(a) {
    const o = origin(state.shot);
    for (const edge of ['off', 'on']) for (const y of bases(a.p.name, edge)) {
      if (y) line(left, a.py(y), size.w - right, a.py(y), css('--line'), [5, 2], 0.8); // at 0 there is the grid
    }
    for (const key of inView()) {
      const q = read(key), edge = data.columns.find((c) => c.key === key)?.edge === 'turn-on' ? 'on' : 'off', [low, high] = bases(a.p.name, edge);
      if (px(q[3]) - px(q[2]) < 12) continue; // the window is too narrow to tell levels
      const reach = Math.max((q[3] - q[2]) * 0.6, (state.to - state.from) * 0.03), x0 = px(q[2] - o - reach), x1 = px(q[3] - o + reach);
      for (const percent of percents(key, data.texts[q[4]], a.p.name)) {
        const y = a.py(low + (high - low) * percent / 100);
        if (!(y === y)) continue;
        line(x0, y, x1, y, css('--ink'), [1, 3], 1);
        const text = percent + ' %', width = pen.measureText(text).width;
        pen.fillStyle = css('--paper'); pen.fillRect(x0 - width - 5, y - 6, width + 4, 12); // kept clear of traces
        pen.fillStyle = css('--ink'); pen.textAlign = 'right'; write(text, x0 - 3, y + 4);
      }
    }
  }
  // marks rings the traces at the ends of where the chosen quantity was read.
  function marks(a) {
    const o = origin(state.shot), w = waveforms(state.shot), role = { v: 'vds', i: 'id', g: 'vgs' }[a.p.name], t = w.traces.get(role);
    if (!t) return;
    for (const key of inView()) for (const end of read(key).slice(2, 4)) {
      const y = t.at(end);
      if (!(y === y)) continue;
      pen.strokeStyle = css('--ink'); pen.lineWidth = 1.2;
      pen.beginPath(); pen.arc(px(end - o), a.py(y), 4, 0, 7); pen.stroke();
    }
  }

  // Read-outs.
  function table(el, name, head, rows) {
    const t = document.createElement('table');
    t.setAttribute('aria-label', name);
    const add = (cells, parent, scope) => {
      const tr = document.createElement('tr');
      cells.forEach((c, k) => {
        const cell = document.createElement(scope === 'col' || k === 0 ? 'th' : 'td');
        if (cell.tagName === 'TH') cell.scope = scope;
        if (typeof c === 'string') letters(cell, c); else { letters(cell, c.symbol ?? ''); cell.prepend(c.plain); }
        tr.append(cell);
      });
      parent.append(tr);
    };
    add(head, t.createTHead(), 'col'); const body = t.createTBody();
    for (const r of rows) add(r, body, 'row');
    el.replaceChildren(t);
  }
  // shownAt is the value at the pointer; where only groups are stored, the range there.
  function shownAt(c, unit) {
    const y = c.at(pointer), s = y === y || !c.span ? null : c.span(pointer, pointer + c.dt);
    return s ? show(s[0], unit) + ' to ' + show(s[1], unit) : show(y, unit);
  }
  function readout() {
    const many = names().length > 1;
    const all = areas.flatMap((a) => a.c.map((c) => ({ a, c })));
    const label = (c, name = c.name) => ({ plain: many ? name + ' ' : '', symbol: c.label });
    if (pointer !== null) table($('pointer'), 'At the pointer', ['at ' + show(pointer, 's', 6), ''], all.map(({ a, c }) => [label(c), shownAt(c, a.p.unit)]));
    const [r1, r2] = state.rulers;
    if (r1 === null || r2 === null) { $('between').textContent = r1 === null && r2 === null ? 'Set them by the buttons or the keys 1 and 2.' : 'Set the other ruler.'; return; }
    const rows = [['time', show(r1, 's', 6), show(r2, 's', 6), show(r2 - r1, 's'), '']];
    for (const { a, c } of all) {
      const y1 = c.at(r1), y2 = c.at(r2);
      if (y1 !== y1 && y2 !== y2) continue;
      rows.push([label(c), show(y1, a.p.unit), show(y2, a.p.unit), show(y2 - y1, a.p.unit), a.p.roles ? show((y2 - y1) / (r2 - r1), a.p.unit + '/s') : '']);
    }
    for (const name of names()) {
      const o = origin(name);
      rows.push([label({ label: '∫ v·i dt' }, name), '', '', show(energy(waveforms(name), Math.min(r1, r2) + o, Math.max(r1, r2) + o, 0), 'J'), '']);
    }
    table($('between'), 'Between the rulers', ['', 'ruler 1', 'ruler 2', 'difference', 'slope'], rows);
  }

  // numbers tells of what is marked in the view how it was read.
  function numbers() {
    const row = document.querySelector('#table tbody tr.current'), notes = [...(row?.querySelectorAll('td details p') ?? [])].map((p) => p.textContent);
    const list = inView().map((key) => {
      const q = read(key), c = data.columns.find((x) => x.key === key);
      return [symbol(key), show(q[0], c.unit, 4, q[1]), show(q[2], 's', 7), show(q[3], 's', 7), { plain: data.texts[q[4]] }, { plain: q[1] === null ? '' : data.texts[q[5]] }];
    });
    if (!list.length) { $('numbers').textContent = 'Nothing was read of this shot.'; return; }
    table($('numbers'), 'What is marked', ['', 'value ± U', 'from', 'to', 'read as', 'most of U comes from'], list);
    for (const text of notes.filter((t) => inView().some((key) => t.startsWith(key + ': ')))) {
      const p = document.createElement('p');
      p.className = 'note'; p.textContent = text; $('numbers').append(p);
    }
  }

  // The trial. Ends that are levels of the current move with it.
  function trial() {
    if (!$('trial').open) return;
    const key = $('trial-edge').value, s = figuresOf(state.shot), q = s.q[key], w = waveforms(state.shot);
    const lag = Number($('trial-delay').value) * 1e-9, late = Number($('trial-end').value) * 1e-9;
    if (!q || q[2] === null) { $('trial-out').textContent = 'This shot has no ' + key + '.'; $('trial-lines').value = ''; return; }
    const [start, stop] = data.texts[q[4]].split('.')[0].split('-');
    const ends = (d) => [q[2] - (start.startsWith('i') ? d : 0), q[3] - (stop && stop.startsWith('i') ? d : 0)];
    const value = (d, e) => { const [a, b] = ends(d); return energy(w, a, b + e, d); };
    const now = value(0, 0), then = value(lag, late), e = q[0] + then - now;
    const step = 1e-10, slope = (value(lag + step, late) - value(lag - step, late)) / (2 * step);
    $('trial-out').replaceChildren();
    table($('trial-out'), 'Trial', ['', 'result', 'trial', 'change'], [
      [symbol(key), show(q[0], 'J'), show(e, 'J'), minus((100 * (e / q[0] - 1)).toFixed(2)) + ' %'],
      ['per ns taken out', '', '', minus((100 * slope * 1e-9 / q[0]).toFixed(2)) + ' %/ns'],
      ['window', show(q[3] - q[2], 's'), show(ends(lag)[1] + late - ends(lag)[0], 's'), data.texts[q[4]]],
    ]);
    const lines = ['[channel.id]', 'delay = "' + ((s.delay + lag) * 1e9).toFixed(3) + ' ns"'];
    if (late) lines.push('# the window\'s end is a definition: slewbook definitions lists them');
    $('trial-lines').value = lines.join('\n');
  }

  // The address keeps the view.
  let later = 0;
  function keep() {
    clearTimeout(later);
    later = setTimeout(() => history.replaceState(null, '', '#' + address()), 120); // browsers bound how often
  }
  function address() {
    const p = new URLSearchParams({ shot: state.shot, from: state.from.toPrecision(9), to: state.to.toPrecision(9) });
    if (state.others.length) p.set('with', JSON.stringify(state.others));
    if (state.align) p.set('align', state.align);
    if (state.focus) p.set('focus', state.focus);
    if (state.raw) p.set('raw', '1');
    state.rulers.forEach((r, k) => { if (r !== null) p.set('r' + (k + 1), r.toPrecision(9)); });
    return p;
  }
  function load(hash) {
    const p = new URLSearchParams(hash.slice(1)), name = p.get('shot');
    if (!name || !stored.has(name)) return false;
    state.shot = name; state.align = p.get('align') ?? ''; state.focus = p.get('focus') ?? ''; state.raw = p.get('raw') === '1';
    try { state.others = JSON.parse(p.get('with') ?? '[]').filter((n) => stored.has(n)); } catch { state.others = []; }
    const number = (k) => (p.get(k) !== null && Number.isFinite(Number(p.get(k))) ? Number(p.get(k)) : null);
    state.rulers = [number('r1'), number('r2')];
    $('align').value = state.align; $('raw').checked = state.raw;
    describe();
    if (number('from') !== null && number('to') !== null) set(number('from'), number('to')); else look();
    return true;
  }
  // dashed is a sample of the line of shot k.
  function dashed(k) {
    const t = document.createElement('template');
    t.innerHTML = '<svg class="key" viewBox="0 0 34 12" aria-hidden="true"><path class="fit sample" d="M1 6H33" stroke-dasharray="' + dashes[k % dashes.length].join(' ') + '"/></svg>';
    return t.content.firstChild;
  }
  function describe() {
    $('shown').replaceChildren(...names().flatMap((name, k, all) => {
      const item = document.createElement('span');
      item.className = 'shot'; item.append(...(all.length > 1 ? [dashed(k)] : []), name);
      return [item, ' '];
    }));
    const list = $('focus'), q = figuresOf(state.shot).q;
    list.replaceChildren(list.options[0], ...data.columns.filter((c) => q[c.key] && q[c.key][2] !== null).map((c) => new Option(c.key, c.key)));
    list.value = state.focus;
    if (list.selectedIndex < 0) { list.value = ''; state.focus = ''; }
    canvas.setAttribute('aria-label', 'Waveforms of ' + names().join(', '));
    for (const tr of document.querySelectorAll('#table tbody tr')) {
      tr.classList.toggle('current', tr.dataset.capture === state.shot);
      if (tr.dataset.capture === state.shot) tr.setAttribute('aria-current', 'true'); else tr.removeAttribute('aria-current');
      const box = tr.querySelector('input');
      if (box) box.checked = names().includes(tr.dataset.capture);
    }
    numbers();
  }
  // mark marks where another quantity was read.
  function mark(key) {
    state.focus = key; $('focus').value = key; numbers();
    look();
  }
  // look shows where the chosen quantity was read, or the whole record.
  function look() {
    const q = state.focus && figuresOf(state.shot).q[state.focus];
    if (!q || q[2] === null) { set(...extent()); return; }
    const o = origin(state.shot), d = Math.max(q[3] - q[2], 2e-8);
    set(q[2] - o - 1.5 * d, q[3] - o + 2.5 * d);
  }
  function choose(name, focus) {
    state.shot = name; state.focus = focus ?? ''; state.rulers = [null, null]; pointer = null;
    describe();
    look();
  }
  // toEdge shows the next event, or the one before, seen from the middle of the view.
  function toEdge(step) {
    const o = origin(state.shot), events = figuresOf(state.shot).events.toSorted((a, b) => a.t - b.t);
    if (!events.length) return;
    const q = ['e_off', 'e_on'].map((k) => figuresOf(state.shot).q[k]).find((x) => x && x[2] !== null);
    const d = q ? (q[3] - q[2]) * 3 : 2e-7, [a, b] = extent();
    const here = (state.from + state.to - 0.6 * d) / 2 + o, whole = state.to - state.from > 0.99 * (b - a);
    const e = whole ? events.at(step > 0 ? 0 : -1) : step > 0 ? events.find((x) => x.t > here + 0.05 * d) ?? events[0] : events.findLast((x) => x.t < here - 0.05 * d) ?? events.at(-1);
    set(e.t - o - d, e.t - o + 1.6 * d);
  }
  // ruler sets a ruler at the pointer, or a third into the view from its side.
  function ruler(k) {
    const inside = pointer !== null && pointer >= state.from && pointer <= state.to;
    state.rulers[k] = inside ? pointer : state.from + (state.to - state.from) * (k + 1) / 3;
    draw();
  }
  const zoom = (f, t = (state.from + state.to) / 2) => set(t - (t - state.from) * f, t + (state.to - t) * f);
  const pan = (f) => { const d = (state.to - state.from) * f; set(state.from + d, state.to + d); };
  const actions = {
    reset: () => set(...extent()), edge: () => toEdge(1), before: () => toEdge(-1), ruler1: () => ruler(0), ruler2: () => ruler(1), in: () => zoom(0.5), out: () => zoom(2), left: () => pan(-0.25), right: () => pan(0.25),
    between: () => { const [a, b] = state.rulers; if (a !== null && b !== null && a !== b) set(Math.min(a, b), Math.max(a, b)); },
    rulers: () => { state.rulers = [null, null]; draw(); },
  };
  for (const b of document.querySelectorAll('[data-do]')) b.addEventListener('click', () => actions[b.dataset.do]());
  const keys = { ArrowLeft: 'left', ArrowRight: 'right', '+': 'in', '=': 'in', '-': 'out', 0: 'reset', Home: 'reset', e: 'edge', E: 'before', c: 'rulers', z: 'between', 1: 'ruler1', 2: 'ruler2' };
  canvas.addEventListener('keydown', (ev) => {
    if (ev.ctrlKey || ev.metaKey || ev.altKey) return;
    if (ev.shiftKey && ev.key.startsWith('Arrow')) {
      pointer = Math.min(Math.max((pointer ?? (state.from + state.to) / 2) + (ev.key === 'ArrowLeft' ? -1 : 1) * (state.to - state.from) / 100, state.from), state.to);
      draw();
    } else if (keys[ev.key]) actions[keys[ev.key]](); else return;
    ev.preventDefault();
    said = true;
  });
  const where = (ev) => Math.min(Math.max(ev.clientX - canvas.getBoundingClientRect().left, left), size.w - right);
  canvas.addEventListener('pointerdown', (ev) => {
    const x = where(ev), near = state.rulers.findIndex((t) => t !== null && Math.abs(px(t) - x) < 6);
    drag = { x, pan: ev.shiftKey, from: state.from, to: state.to, ruler: near < 0 || ev.shiftKey ? undefined : near };
    canvas.setPointerCapture(ev.pointerId); canvas.focus();
  });
  canvas.addEventListener('pointermove', (ev) => {
    const x = where(ev);
    pointer = time(x);
    if (drag) drag.at = x;
    if (drag?.pan) { const d = (drag.x - x) / (size.w - left - right) * (drag.to - drag.from); set(drag.from + d, drag.to + d); }
    if (drag?.ruler !== undefined) state.rulers[drag.ruler] = pointer;
    draw();
  });
  canvas.addEventListener('pointerup', (ev) => {
    const d = drag, x = where(ev);
    drag = null;
    if (d && !d.pan && d.ruler === undefined && Math.abs(x - d.x) > 4) set(time(Math.min(x, d.x)), time(Math.max(x, d.x))); else draw();
  });
  canvas.addEventListener('pointercancel', () => { drag = null; });
  canvas.addEventListener('wheel', (ev) => { ev.preventDefault(); zoom(ev.deltaY > 0 ? 1.25 : 0.8, time(where(ev))); }, { passive: false });
  canvas.addEventListener('dblclick', actions.reset);
  $('raw').addEventListener('change', () => { state.raw = $('raw').checked; draw(); });
  $('focus').addEventListener('change', () => mark($('focus').value));
  $('align').addEventListener('change', () => { state.align = $('align').value; state.rulers = [null, null]; set(...extent()); });
  for (const id of ['trial-edge', 'trial-delay', 'trial-end']) $(id).addEventListener('input', trial);
  $('trial').addEventListener('toggle', trial);
  const copy = (text) => { const had = document.activeElement, el = document.createElement('textarea'); el.value = text; document.body.append(el); el.select(); document.execCommand('copy'); el.remove(); had.focus(); };
  $('trial-copy').addEventListener('click', () => copy($('trial-lines').value));

  // The table: order, filter, columns, copy.
  const body = $('table').tBodies[0], headers = [...$('table').tHead.rows[0].cells];
  const text = (tr, key) => (key === 'capture' ? tr.dataset.capture : key === 'warnings' ? tr.dataset.codes : tr.querySelector('td[data-key="' + key + '"]')?.dataset.sort) ?? '';
  let sorted = { key: '', up: true };
  function sort(key, th) {
    sorted = { key, up: sorted.key === key ? !sorted.up : true };
    const sign = sorted.up ? 1 : -1;
    const rows = [...body.rows].map((tr) => [text(tr, key), tr]);
    rows.sort(([a], [b]) => {
      if (a === '' || b === '') return a === b ? 0 : a === '' ? 1 : -1; // not measured comes last
      const d = Number(a) - Number(b);
      return sign * (Number.isNaN(d) ? a.localeCompare(b, undefined, { numeric: true }) : d);
    });
    body.append(...rows.map((r) => r[1]));
    for (const h of headers) h.removeAttribute('aria-sort');
    th.setAttribute('aria-sort', sorted.up ? 'ascending' : 'descending');
  }
  function head(th) {
    const b = document.createElement('button');
    b.type = 'button'; b.append(...th.childNodes); if (th.title) b.title = th.title; th.append(b);
    b.addEventListener('click', () => sort(th.dataset.key, th));
  }
  for (const th of headers) if (th.dataset.key) head(th);
  const conditions = headers.filter((h) => 'condition' in h.dataset).map((h) => h.dataset.key);
  function filter() {
    const words = $('words').value.toLowerCase().split(/\s+/).filter(Boolean), code = $('code').value;
    let n = 0;
    for (const tr of body.rows) {
      const given = conditions.map((k) => k + ' ' + (tr.querySelector('td[data-key="' + k + '"]')?.textContent ?? '')).join('; ');
      const all = (tr.dataset.capture + ' ' + given + ' ' + tr.dataset.codes + (tr.querySelector('.refused') ? ' refused' : '')).toLowerCase();
      const codes = tr.dataset.codes.split(' ');
      tr.hidden = !(words.every((w) => all.includes(w)) && (code === '' || (code === '-' ? tr.dataset.codes === '' : codes.includes(code))));
      n += !tr.hidden;
    }
    $('count').textContent = n + ' of ' + body.rows.length + ' shots';
  }
  $('words').addEventListener('input', filter); $('code').addEventListener('change', filter);
  $('filter').addEventListener('submit', (ev) => ev.preventDefault());
  function column(c, on) {
    let th = headers.find((h) => h.dataset.key === c.key);
    if (!th && on) {
      th = document.createElement('th'); th.scope = 'col'; th.dataset.key = c.key; th.title = c.help; letters(th, c.symbol);
      headers.at(-1).before(th); headers.splice(-1, 0, th); head(th);
      for (const tr of body.rows) {
        const q = figuresOf(tr.dataset.capture)?.q[c.key], td = document.createElement('td');
        td.className = 'number'; td.dataset.key = c.key; td.dataset.sort = q ? q[0] : '';
        td.textContent = q ? show(q[0], c.unit, 4, q[1]) : '-';
        const refused = tr.querySelector('.refused');
        if (refused) refused.colSpan++; else tr.lastElementChild.before(td);
      }
    }
    if (th) { th.hidden = !on; for (const td of body.querySelectorAll('td[data-key="' + c.key + '"]')) td.hidden = !on; }
    $('table').style.setProperty('--columns', headers.filter((h) => h.dataset.key && !h.hidden).length - 1); // on paper without the warnings
  }
  for (const c of data.columns) {
    const label = document.createElement('label'), box = document.createElement('input');
    box.type = 'checkbox'; box.checked = headers.some((h) => h.dataset.key === c.key);
    box.addEventListener('change', () => column(c, box.checked));
    label.append(box, ' ' + c.key); label.title = c.help; $('columns').append(label);
  }
  $('copy').addEventListener('click', () => {
    const quote = (s) => (/[",\n]/.test(s) ? '"' + s.replaceAll('"', '""') + '"' : /^[=+@]/.test(s) ? "'" + s : s);
    const keys = headers.filter((h) => h.dataset.key && !h.hidden).map((h) => h.dataset.key);
    const unit = (k) => { const c = data.columns.find((x) => x.key === k); return c ? k + ' [' + c.unit + ']' : k; };
    const lines = [keys.map(unit)];
    for (const tr of body.rows) if (!tr.hidden) lines.push(keys.map((k) => text(tr, k)));
    copy(lines.map((l) => l.map(quote).join(',')).join('\n') + '\n');
    $('count').textContent = lines.length - 1 + ' shots copied';
  });
  // open shows where the number of a cell was read.
  function open(td) {
    const name = td?.closest('tr').dataset.capture;
    if (!td?.matches('td.number') || !td.dataset.sort || !stored.has(name)) return false;
    choose(name, td.dataset.key); $('waveform').scrollIntoView({ block: 'start' }); canvas.focus({ preventScroll: true });
    return true;
  }
  body.addEventListener('click', (ev) => open(ev.target.closest('td')));
  // Arrow keys go from cell to cell, from a name or wherever the focus is in the table.
  body.addEventListener('keydown', (ev) => {
    const cell = ev.target.closest('th, td'), tr = cell.parentElement, shown = (el, next) => { do el = el?.[next]; while (el?.hidden); return el; };
    const column = (row) => [...row?.cells ?? []].find((c) => c.dataset.key === cell.dataset.key) ?? row?.cells[1];
    let to = null;
    if (ev.key === 'Enter' && ev.target === cell) { if (open(cell)) ev.preventDefault(); return; }
    if (ev.key === 'ArrowRight') to = shown(cell, 'nextElementSibling');
    else if (ev.key === 'ArrowLeft') to = shown(cell, 'previousElementSibling');
    else if (ev.key === 'ArrowDown') to = column(shown(tr, 'nextElementSibling'));
    else if (ev.key === 'ArrowUp') to = column(shown(tr, 'previousElementSibling'));
    if (!to) return;
    ev.preventDefault();
    const inside = to.querySelector('a, input, summary');
    if (!inside) to.tabIndex = -1;
    (inside ?? to).focus();
  });
  body.addEventListener('change', (ev) => {
    const name = ev.target.closest('tr').dataset.capture;
    if (ev.target.checked) { if (!names().includes(name)) state.others.push(name); } else state.others = state.others.filter((n) => n !== name);
    if (!state.align && state.others.length) { state.align = 'turn-off'; $('align').value = state.align; }
    describe(); set(...extent());
  });
  window.addEventListener('hashchange', (ev) => {
    // Not location.hash: keep may have written the view that is left over the one that was asked for.
    if (load(new URL(ev.newURL).hash)) $('waveform').scrollIntoView({ block: 'start' });
  });
  window.addEventListener('resize', draw);
  for (const q of ['(prefers-color-scheme: dark)', '(prefers-contrast: more)', '(forced-colors: active)', 'print']) matchMedia(q).addEventListener('change', recolour);
  window.addEventListener('beforeprint', () => { colours = new Map(); paint(); });
  filter();
  if (!load(location.hash) && stored.size) choose(stored.keys().next().value);
})();
