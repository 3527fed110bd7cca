'use strict';
(() => {
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($('data').textContent);
  const shots = new Map(data.shots.map((s) => [s.capture, s]));
  const stored = new Map();
  for (const el of document.querySelectorAll('script.stored')) {
    // The name comes first, so that a large campaign is not parsed to find it.
    const name = JSON.parse(/^\{"capture":("(?:[^"\\]|\\.)*")/.exec(el.textContent)[1]);
    stored.set(name, el);
  }
  for (const el of document.querySelectorAll('.scripted')) el.hidden = false;
  if (!stored.size) {
    $('waveform').hidden = true;
    for (const el of document.querySelectorAll('nav .scripted, .pick')) el.hidden = true;
  }

  // Numbers for people.
  const prefixes = [['T', 1e12], ['G', 1e9], ['M', 1e6], ['k', 1e3], ['', 1], ['m', 1e-3], ['µ', 1e-6], ['n', 1e-9], ['p', 1e-12], ['f', 1e-15]];
  const units = { ohm: 'Ω', 1: '' };
  function show(x, unit, digits = 4) {
    if (x === null || x === undefined || !Number.isFinite(x)) return '-';
    if (x === 0) return ('0 ' + (units[unit] ?? unit)).trim();
    if (unit === 'V/s') { x *= 1e-9; unit = 'V/ns'; } else if (unit === 'A/s') { x *= 1e-9; unit = 'A/ns'; } else if (unit === 'K') { x -= 273.15; unit = '°C'; }
    let [name, size] = ['', 1];
    if (!['1', '°C', 'V/ns', 'A/ns'].includes(unit)) [name, size] = prefixes.find((p) => Math.abs(x) >= p[1] * 0.9999995) ?? prefixes.at(-1);
    if ((unit === 'V' || unit === 'A') && Math.abs(x) >= 0.5 && Math.abs(x) < 1e4) [name, size] = ['', 1];
    const places = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(x / size))));
    return ((x / size).toFixed(Math.min(places, 12)).replace('-', '−') + ' ' + name + (units[unit] ?? unit)).trim();
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
      for (const s of this.full) if (k >= s.at && k < s.at + s.y.length) return this.value(s.y[k - s.at]);
      return NaN;
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
    const q = shots.get(name).q[state.align === 'turn-off' ? 'e_off' : 'e_on'];
    const near = q ? q[2] : null;
    const events = shots.get(name).events.filter((e) => e.edge === state.align);
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
    { name: 'v', unit: 'V', roles: ['vds', 'v_other'], color: '--v' }, { name: 'i', unit: 'A', roles: ['id', 'i_other', 'il'], color: '--i' },
    { name: 'v_GS', unit: 'V', roles: ['vgs', 'vgs_other'], color: '--g' }, { name: 'p', unit: 'W', color: '--p' }, { name: 'E', unit: 'J', color: '--e' },
  ];
  const left = 66, right = 12, top = 8, foot = 34, gap = 8;
  const dashes = [[], [7, 3], [2, 2], [7, 2, 2, 2]];
  let size = { w: 0, h: 0 }, areas = [], pointer = null;
  const px = (t) => left + (t - state.from) / (state.to - state.from) * (size.w - left - right);
  const time = (x) => state.from + (x - left) / (size.w - left - right) * (state.to - state.from);
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  // curves lists what a panel shows: functions that give the span of a stretch.
  function curves(panel) {
    const out = [];
    names().forEach((name, k) => {
      const w = waveforms(name), o = origin(name);
      if (panel.roles) {
        panel.roles.forEach((role, r) => {
          const t = w.traces.get(role);
          if (t) out.push({ span: (a, b) => t.span(a + o, b + o), at: (x) => t.at(x + o), dt: t.dt, first: t.t0 - o, dash: k + r, label: role, name });
          const before = state.raw && w.raw.get(role);
          if (before) out.push({ span: (a, b) => before.span(a + o, b + o), at: (x) => before.at(x + o), dt: before.dt, first: before.t0 - o, dash: k, thin: true, label: role + ' raw', name });
        });
        return;
      }
      const v = w.traces.get('vds'), i = w.traces.get('id');
      if (!v || !i) return;
      if (panel.name === 'p') {
        out.push({ at: (x) => v.at(x + o) * i.at(x + o), dt: Math.min(v.dt, i.dt), first: v.t0 - o, dash: k, label: 'v·i', name });
        return;
      }
      // Running energy from the start of each measured window, where all samples are stored.
      for (const key of ['e_off', 'e_on']) {
        const q = shots.get(name).q[key];
        if (!q || q[2] === null) continue;
        const d = q[3] - q[2], steps = [[q[2] - o, 0]];
        for (let x = q[2], n = 0; n < 240; n++) {
          const next = x + d / 80, e = energy(w, x, next, 0);
          if (!(e === e)) break;
          steps.push([next - o, steps.at(-1)[1] + e]);
          x = next;
        }
        out.push({ points: steps, at: (x) => {
          const n = steps.findIndex((s) => s[0] >= x);
          if (n < 1) return NaN;
          const [a, b] = [steps[n - 1], steps[n]];
          return a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
        }, dash: k, label: key === 'e_off' ? 'E off' : 'E on', name });
      }
    });
    return out;
  }
  // points turns a curve into strokes: samples where they are few, columns of
  // least and largest where they are many.
  function strokes(c) {
    if (c.points) return c.points.filter((p) => p[0] >= state.from && p[0] <= state.to).map((p) => [p[0], p[1], p[1]]);
    const width = size.w - left - right, out = [];
    const samples = (state.to - state.from) / c.dt;
    if (samples > 2 * width && c.span) {
      for (let x = 0; x < width; x++) {
        const a = time(left + x), b = time(left + x + 1), s = c.span(a, b);
        if (s) out.push([(a + b) / 2, s[0], s[1]]);
      }
      return out;
    }
    const step = Math.max(1, Math.floor(samples / (4 * width)));
    const k0 = Math.floor((state.from - c.first) / c.dt) - 1, k1 = Math.ceil((state.to - c.first) / c.dt) + 1;
    for (let k = k0; k <= k1; k += step) {
      const t = c.first + k * c.dt, y = c.at(t);
      if (y === y) out.push([t, y, y]);
    }
    if (!out.length && c.span) for (let x = 0; x < width; x++) { const a = time(left + x), s = c.span(a, time(left + x + 1)); if (s) out.push([a, s[0], s[1]]); }
    return out;
  }
  function ticks(low, high, n) {
    const raw = (high - low) / n, mag = 10 ** Math.floor(Math.log10(raw)), m = [1, 2, 5, 10].find((f) => f * mag >= raw) * mag, out = [];
    for (let k = Math.ceil(low / m); k * m <= high; k++) out.push(k * m);
    return out;
  }

  function draw() {
    if (!state.shot) return;
    const ratio = window.devicePixelRatio || 1, box = canvas.getBoundingClientRect();
    size = { w: Math.max(box.width, 200), h: Math.max(box.height, 200) };
    canvas.width = size.w * ratio; canvas.height = size.h * ratio;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = css('--paper'); pen.fillRect(0, 0, size.w, size.h);
    pen.font = '11px "Liberation Sans", Arial, sans-serif';
    const shown = panels.map((p) => ({ p, c: curves(p) })).filter((x) => x.c.length);
    const height = (size.h - top - foot - gap * (shown.length - 1)) / shown.length;
    areas = shown.map((x, k) => ({ ...x, y0: top + k * (height + gap), y1: top + k * (height + gap) + height }));
    const grid = ticks(state.from, state.to, Math.max(2, Math.floor((size.w - left - right) / 110)));
    areas.forEach((a) => panel(a, grid));
    // Time axis.
    pen.fillStyle = css('--ink'); pen.textAlign = 'center';
    const [pre, scale] = prefixes.find((p) => Math.max(Math.abs(state.from), Math.abs(state.to)) >= p[1]) ?? prefixes.at(-1);
    const places = Math.max(0, Math.ceil(-Math.log10((grid[1] - grid[0]) / scale || 1)));
    for (const t of grid) pen.fillText((t / scale).toFixed(Math.min(places, 9)).replace('-', '−'), px(t), size.h - foot + 14);
    pen.textAlign = 'right';
    pen.fillText((state.align ? 'time from the ' + state.align : 'time') + ' / ' + pre + 's', size.w - right, size.h - 6);
    state.rulers.forEach((t, k) => { if (t !== null && t >= state.from && t <= state.to) line(px(t), top, px(t), size.h - foot, css('--ink'), [6, 3], 1.2, String(k + 1)); });
    if (pointer !== null && pointer >= state.from && pointer <= state.to) line(px(pointer), top, px(pointer), size.h - foot, css('--line'), [], 0.8);
    readout();
    trial();
    keep();
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
    for (const t of grid) line(px(t), a.y0, px(t), a.y1, css('--grid'), [], 0.7);
    const marks = ticks(low, high, Math.max(2, Math.floor((a.y1 - a.y0) / 34)));
    for (const y of marks) line(left, a.py(y), size.w - right, a.py(y), css('--grid'), [], 0.7);
    levels(a);
    for (const { c, s } of all) {
      pen.strokeStyle = c.thin ? css('--line') : css(a.p.color); pen.lineWidth = c.thin ? 0.8 : 1.5;
      pen.setLineDash(dashes[c.dash % dashes.length]);
      pen.beginPath();
      s.forEach((p, k) => {
        const x = px(p[0]);
        if (k === 0) pen.moveTo(x, a.py(p[1])); else pen.lineTo(x, a.py(p[1]));
        if (p[2] !== p[1]) pen.lineTo(x, a.py(p[2]));
      });
      pen.stroke(); pen.setLineDash([]);
      if (s.length > 1 && s.length < (size.w - left - right) / 9 && !c.points) for (const p of s) { pen.fillStyle = pen.strokeStyle; pen.fillRect(px(p[0]) - 1.5, a.py(p[1]) - 1.5, 3, 3); }
    }
    pen.restore();
    pen.strokeStyle = css('--line'); pen.lineWidth = 0.8; pen.strokeRect(left, a.y0, size.w - left - right, a.y1 - a.y0);
    pen.fillStyle = css('--ink'); pen.textAlign = 'right';
    const [pre, scale] = a.p.unit === 'V' || a.p.unit === 'A' ? ['', 1] : prefixes.find((p) => Math.max(Math.abs(low), Math.abs(high)) >= p[1]) ?? prefixes.at(-1);
    const places = Math.max(0, Math.ceil(-Math.log10((marks[1] - marks[0]) / scale || 1)));
    for (const y of marks) pen.fillText((y / scale).toFixed(Math.min(places, 6)).replace('-', '−'), left - 5, a.py(y) + 4);
    pen.textAlign = 'left'; pen.fillText(a.p.name + ' / ' + pre + a.p.unit, left + 6, a.y0 + 13);
  }
  // windows shades where the chosen quantity, or else the energies, were read.
  function windows(a) {
    const s = shots.get(state.shot), o = origin(state.shot);
    for (const key of state.focus ? [state.focus] : ['e_off', 'e_on']) {
      const q = s.q[key];
      if (!q || q[2] === null) continue;
      const x0 = px(q[2] - o), x1 = px(q[3] - o);
      pen.fillStyle = css('--window'); pen.fillRect(x0, a.y0, Math.max(x1 - x0, 1.5), a.y1 - a.y0);
      if (state.focus && a === areas[0]) { pen.fillStyle = css('--ink'); pen.textAlign = 'left'; pen.fillText(key, x0 + 3, a.y1 - 5); }
    }
  }
  // levels draws the bases of the percentages with 10 and 90 % of them.
  function levels(a) {
    const s = shots.get(state.shot), base = { v: ['v_bus_off', 'v_bus_on'], i: ['i_off', 'i_on'] }[a.p.name];
    if (!base) return;
    for (const key of base) {
      const q = s.q[key];
      if (q) for (const [f, dash] of [[1, [5, 2]], [0.9, [1, 3]], [0.1, [1, 3]]]) line(left, a.py(f * q[0]), size.w - right, a.py(f * q[0]), css('--line'), dash, 0.8);
    }
  }

  // Read-outs.
  function table(el, head, rows) {
    const t = document.createElement('table');
    const add = (tag, cells, parent) => { const tr = document.createElement('tr'); for (const c of cells) { const td = document.createElement(tag); td.textContent = c; tr.append(td); } parent.append(tr); };
    add('th', head, t.createTHead()); const body = t.createTBody();
    for (const r of rows) add('td', r, body);
    el.replaceChildren(t);
  }
  // read is the value at the pointer; where only groups are stored, the range there.
  function read(c, unit) {
    const y = c.at(pointer), s = y === y || !c.span ? null : c.span(pointer, pointer + c.dt);
    return s ? show(s[0], unit) + ' to ' + show(s[1], unit) : show(y, unit);
  }
  function readout() {
    const many = names().length > 1;
    const all = areas.flatMap((a) => a.c.map((c) => ({ a, c })));
    const label = (c) => (many ? c.name + ' ' : '') + c.label;
    if (pointer !== null) table($('pointer'), ['at ' + show(pointer, 's', 6), ''], all.map(({ a, c }) => [label(c), read(c, a.p.unit)]));
    const [r1, r2] = state.rulers;
    if (r1 === null || r2 === null) { $('between').textContent = r1 === null && r2 === null ? 'Set them with the keys 1 and 2.' : 'Set the other ruler.'; return; }
    const rows = [['time', show(r1, 's', 6), show(r2, 's', 6), show(r2 - r1, 's'), '']];
    for (const { a, c } of all) {
      const y1 = c.at(r1), y2 = c.at(r2);
      rows.push([label(c), show(y1, a.p.unit), show(y2, a.p.unit), show(y2 - y1, a.p.unit), a.p.roles ? show((y2 - y1) / (r2 - r1), a.p.unit + '/s') : '']);
    }
    for (const name of names()) {
      const o = origin(name);
      rows.push([(many ? name + ' ' : '') + '∫ v·i dt', '', '', show(energy(waveforms(name), Math.min(r1, r2) + o, Math.max(r1, r2) + o, 0), 'J'), '']);
    }
    table($('between'), ['', 'ruler 1', 'ruler 2', 'difference', 'slope'], rows);
  }

  // The trial. Ends that are levels of the current move with it.
  function trial() {
    if (!$('trial').open) return;
    const key = $('trial-edge').value, s = shots.get(state.shot), q = s.q[key], w = waveforms(state.shot);
    const lag = Number($('trial-delay').value) * 1e-9, late = Number($('trial-end').value) * 1e-9;
    if (!q || q[2] === null) { $('trial-out').textContent = 'This shot has no ' + key + '.'; $('trial-lines').value = ''; return; }
    const [start, stop] = data.definitions[q[4]].split('.')[0].split('-');
    const ends = (d) => [q[2] - (start.startsWith('i') ? d : 0), q[3] - (stop && stop.startsWith('i') ? d : 0)];
    const value = (d, e) => { const [a, b] = ends(d); return energy(w, a, b + e, d); };
    const now = value(0, 0), then = value(lag, late), e = q[0] + then - now;
    const step = 1e-10, slope = (value(lag + step, late) - value(lag - step, late)) / (2 * step);
    $('trial-out').replaceChildren();
    table($('trial-out'), ['', 'result', 'trial', 'change'], [
      [key, show(q[0], 'J'), show(e, 'J'), (100 * (e / q[0] - 1)).toFixed(2).replace('-', '−') + ' %'],
      ['per ns taken out', '', '', (100 * slope * 1e-9 / q[0]).toFixed(2).replace('-', '−') + ' %/ns'],
      ['window', show(q[3] - q[2], 's'), show(ends(lag)[1] + late - ends(lag)[0], 's'), data.definitions[q[4]]],
    ]);
    const lines = ['[channel.id]', 'delay = "' + ((s.delay + lag) * 1e9).toFixed(3) + ' ns"'];
    if (late) lines.push('# the window\'s end is a definition: slewbook definitions lists them');
    $('trial-lines').value = lines.join('\n');
  }

  // The address keeps the view.
  let loading = false;
  function keep() {
    if (loading) return;
    const p = new URLSearchParams({ shot: state.shot, from: state.from.toPrecision(9), to: state.to.toPrecision(9) });
    if (state.others.length) p.set('with', JSON.stringify(state.others));
    if (state.align) p.set('align', state.align);
    if (state.focus) p.set('focus', state.focus);
    if (state.raw) p.set('raw', '1');
    state.rulers.forEach((r, k) => { if (r !== null) p.set('r' + (k + 1), r.toPrecision(9)); });
    history.replaceState(null, '', '#' + p);
  }
  function load() {
    const p = new URLSearchParams(location.hash.slice(1)), name = p.get('shot');
    if (!name || !stored.has(name)) return false;
    loading = true;
    state.shot = name; state.align = p.get('align') ?? ''; state.focus = p.get('focus') ?? ''; state.raw = p.get('raw') === '1';
    try { state.others = JSON.parse(p.get('with') ?? '[]').filter((n) => stored.has(n)); } catch { state.others = []; }
    const number = (k) => (p.get(k) !== null && Number.isFinite(Number(p.get(k))) ? Number(p.get(k)) : null);
    state.rulers = [number('r1'), number('r2')];
    $('align').value = state.align; $('raw').checked = state.raw;
    describe();
    const [a, b] = extent();
    set(number('from') ?? a, number('to') ?? b);
    loading = false;
    return true;
  }
  function describe() {
    $('shown').textContent = names().join(', ');
    canvas.setAttribute('aria-label', 'Waveforms of ' + names().join(', '));
    for (const tr of document.querySelectorAll('#table tbody tr')) {
      tr.classList.toggle('current', tr.dataset.capture === state.shot);
      const box = tr.querySelector('input');
      if (box) box.checked = names().includes(tr.dataset.capture);
    }
  }
  function choose(name, focus) {
    state.shot = name; state.focus = focus ?? ''; state.rulers = [null, null]; pointer = null;
    describe();
    const q = focus && shots.get(name).q[focus];
    if (q && q[2] !== null) { const o = origin(name), d = Math.max(q[3] - q[2], 2e-8); set(q[2] - o - 1.5 * d, q[3] - o + 2.5 * d); } else set(...extent());
  }
  let edge = -1;
  function nextEdge() {
    const o = origin(state.shot), events = shots.get(state.shot).events;
    if (!events.length) return;
    edge = (edge + 1) % events.length;
    const e = events[edge], q = ['e_off', 'e_on'].map((k) => shots.get(state.shot).q[k]).find((x) => x && x[2] !== null);
    const d = q ? (q[3] - q[2]) * 3 : 2e-7;
    set(e.t - o - d, e.t - o + 1.6 * d);
  }
  const zoom = (f, t = (state.from + state.to) / 2) => set(t - (t - state.from) * f, t + (state.to - t) * f);
  const pan = (f) => { const d = (state.to - state.from) * f; set(state.from + d, state.to + d); };
  const actions = {
    reset: () => set(...extent()), edge: nextEdge, in: () => zoom(0.5), out: () => zoom(2), left: () => pan(-0.25), right: () => pan(0.25),
    rulers: () => { state.rulers = [null, null]; draw(); },
  };
  for (const b of document.querySelectorAll('[data-do]')) b.addEventListener('click', () => actions[b.dataset.do]());
  const keys = { ArrowLeft: 'left', ArrowRight: 'right', '+': 'in', '=': 'in', '-': 'out', 0: 'reset', Home: 'reset', e: 'edge', c: 'rulers' };
  canvas.addEventListener('keydown', (ev) => {
    if (ev.ctrlKey || ev.metaKey || ev.altKey) return;
    if (ev.key === '1' || ev.key === '2') { state.rulers[ev.key - 1] = pointer ?? (state.from + state.to) / 2; draw(); } else if (keys[ev.key]) actions[keys[ev.key]](); else return;
    ev.preventDefault();
  });
  const where = (ev) => Math.min(Math.max(ev.clientX - canvas.getBoundingClientRect().left, left), size.w - right);
  let drag = null;
  canvas.addEventListener('pointerdown', (ev) => { drag = { x: where(ev), pan: ev.shiftKey, from: state.from, to: state.to }; canvas.setPointerCapture(ev.pointerId); canvas.focus(); });
  canvas.addEventListener('pointermove', (ev) => {
    pointer = time(where(ev));
    if (drag?.pan) { const d = (drag.x - where(ev)) / (size.w - left - right) * (drag.to - drag.from); set(drag.from + d, drag.to + d); return; }
    draw();
    if (drag) { pen.globalAlpha = 0.25; pen.fillStyle = css('--link'); pen.fillRect(Math.min(drag.x, where(ev)), top, Math.abs(where(ev) - drag.x), size.h - top - foot); pen.globalAlpha = 1; }
  });
  canvas.addEventListener('pointerup', (ev) => { const d = drag, x = where(ev); drag = null; if (d && !d.pan && Math.abs(x - d.x) > 4) set(time(Math.min(x, d.x)), time(Math.max(x, d.x))); });
  canvas.addEventListener('pointercancel', () => { drag = null; });
  canvas.addEventListener('wheel', (ev) => { ev.preventDefault(); zoom(ev.deltaY > 0 ? 1.25 : 0.8, time(where(ev))); }, { passive: false });
  canvas.addEventListener('dblclick', actions.reset);
  $('raw').addEventListener('change', () => { state.raw = $('raw').checked; draw(); });
  $('align').addEventListener('change', () => { state.align = $('align').value; state.rulers = [null, null]; set(...extent()); });
  for (const id of ['trial-edge', 'trial-delay', 'trial-end']) $(id).addEventListener('input', trial);
  $('trial').addEventListener('toggle', trial);
  const copy = (text) => { const el = document.createElement('textarea'); el.value = text; document.body.append(el); el.select(); document.execCommand('copy'); el.remove(); };
  $('trial-copy').addEventListener('click', () => copy($('trial-lines').value));

  // The table: order, filter, columns, copy.
  const body = $('table').tBodies[0], headers = [...$('table').tHead.rows[0].cells];
  const text = (tr, key) => (key === 'capture' ? tr.dataset.capture : key === 'conditions' ? tr.cells[2]?.textContent : key === 'warnings' ? tr.dataset.codes : tr.querySelector('td[data-key="' + key + '"]')?.dataset.sort) ?? '';
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
    b.type = 'button'; b.append(...th.childNodes); b.title = th.title; th.append(b);
    b.addEventListener('click', () => sort(th.dataset.key, th));
  }
  for (const th of headers) if (th.dataset.key) head(th);
  function filter() {
    const words = $('words').value.toLowerCase().split(/\s+/).filter(Boolean), code = $('code').value;
    let n = 0;
    for (const tr of body.rows) {
      const all = (tr.dataset.capture + ' ' + tr.cells[2].textContent + ' ' + tr.dataset.codes + (tr.querySelector('.refused') ? ' refused' : '')).toLowerCase();
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
      th = document.createElement('th'); th.scope = 'col'; th.dataset.key = c.key; th.title = c.help; th.textContent = c.symbol;
      headers.at(-1).before(th); headers.splice(-1, 0, th); head(th);
      for (const tr of body.rows) {
        const q = shots.get(tr.dataset.capture)?.q[c.key], td = document.createElement('td');
        td.className = 'number'; td.dataset.key = c.key; td.dataset.sort = q ? q[0] : '';
        td.textContent = q ? show(q[0], c.unit) : '-';
        const refused = tr.querySelector('.refused');
        if (refused) refused.colSpan++; else tr.lastElementChild.before(td);
      }
    }
    if (th) { th.hidden = !on; for (const td of body.querySelectorAll('td[data-key="' + c.key + '"]')) td.hidden = !on; }
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
  body.addEventListener('click', (ev) => {
    const td = ev.target.closest('td.number'), tr = ev.target.closest('tr');
    if (td && td.dataset.sort && tr && stored.has(tr.dataset.capture)) { choose(tr.dataset.capture, td.dataset.key); $('waveform').scrollIntoView({ block: 'start' }); canvas.focus({ preventScroll: true }); }
  });
  body.addEventListener('change', (ev) => {
    const name = ev.target.closest('tr').dataset.capture;
    if (ev.target.checked) { if (!names().includes(name)) state.others.push(name); } else state.others = state.others.filter((n) => n !== name);
    if (!state.align && state.others.length) { state.align = 'turn-off'; $('align').value = state.align; }
    describe(); set(...extent());
  });
  window.addEventListener('hashchange', () => {
    const name = new URLSearchParams(location.hash.slice(1)).get('shot');
    if (name && stored.has(name) && load()) $('waveform').scrollIntoView({ block: 'start' });
  });
  window.addEventListener('resize', draw);
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', draw);
  filter();
  if (!load() && stored.size) { loading = true; choose(stored.keys().next().value); loading = false; }
})();
