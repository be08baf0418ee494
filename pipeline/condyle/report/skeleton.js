"use strict";
(function () {
  const $ = (id) => document.getElementById(id);
  const source = $("skeleton-data");
  if (!source) return;
  const data = JSON.parse(source.textContent);
  const MISSING = -32768, SIDE_COLOUR = { right: "#14507d", left: "#b87400", "": "#4f5a66" };
  const AXES = [["anterior", "#6d3b7c", []], ["superior", "#1d2733", [5, 3]], ["right", "#d9730d", [2, 2]]];
  const VIEWS = { frontal: [0, 0], sagittal: [90, 0], transverse: [180, 90] };
  const canvas = $("body-view"), strip = $("strip"), slider = $("moment"), status = $("status");
  const state = { trial: 0, frame: 0, yaw: 0, pitch: 0, zoom: 1, playing: false, speed: 1, view: "frontal", last: 0, exact: 0, moved: false };

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const words = (text) => new Int16Array(bytes(text).buffer);
  const trials = data.trials.map((t) => {
    const out = Object.assign({}, t, {
      data: words(t.data), origins: words(t.origins), axes: new Int8Array(bytes(t.axes).buffer), curves: {} });
    for (const side of t.sides) {
      out.curves[side] = { knee_flexion: words(t.curves[side].knee_flexion), fppa: words(t.curves[side].fppa) };
    }
    out.frame = (s) => Math.max(0, Math.min(t.count - 1, Math.round((s - t.start) / t.step)));
    out.time = (k) => t.start + k * t.step;
    out.box = bounds(out);
    return out;
  });

  function bounds(t) {
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    for (let k = 0; k < t.data.length; k += 3) {
      if (t.data[k] === MISSING) continue;
      for (let a = 0; a < 3; a++) {
        low[a] = Math.min(low[a], t.data[k + a]); high[a] = Math.max(high[a], t.data[k + a]);
      }
    }
    const middle = low.map((v, a) => 0.5 * (v + high[a]));
    return { middle, size: Math.max(...low.map((v, a) => high[a] - v), 500) };
  }
  const current = () => trials[state.trial];
  const point = (t, frame, k) => {
    const at = (frame * t.points.length + k) * 3;
    return t.data[at] === MISSING ? null : [t.data[at], t.data[at + 1], t.data[at + 2]];
  };
  function repetition(t, frame) {
    const now = t.time(frame);
    return t.repetitions.find((r) => now >= r[2] - t.step / 2 && now <= r[4] + t.step / 2) || null;
  }
  function percent(t, frame, r) {
    const now = t.time(frame);
    const share = now <= r[3] ? 50 * (now - r[2]) / (r[3] - r[2]) : 50 + 50 * (now - r[3]) / (r[4] - r[3]);
    return Math.max(0, Math.min(100, share));
  }

  function project(p, t, w, h) {
    const y = state.yaw * Math.PI / 180, q = state.pitch * Math.PI / 180;
    const x0 = p[0] - t.box.middle[0], y0 = p[1] - t.box.middle[1], z0 = p[2] - t.box.middle[2];
    const across = -z0 * Math.cos(y) + x0 * Math.sin(y), towards = x0 * Math.cos(y) + z0 * Math.sin(y);
    const up = y0 * Math.cos(q) - towards * Math.sin(q);
    const scale = 0.9 * Math.min(w, h) / t.box.size * state.zoom;
    return [w / 2 + across * scale, h / 2 - up * scale];
  }
  function fit(target) {
    const ratio = window.devicePixelRatio || 1, box = target.getBoundingClientRect();
    if (target.width !== Math.round(box.width * ratio) || target.height !== Math.round(box.height * ratio)) {
      target.width = Math.round(box.width * ratio); target.height = Math.round(box.height * ratio);
    }
    const pen = target.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, box.width, box.height);
    return [pen, box.width, box.height];
  }
  function line(pen, a, b, colour, width, dash) {
    pen.strokeStyle = colour; pen.lineWidth = width; pen.setLineDash(dash || []);
    pen.beginPath(); pen.moveTo(a[0], a[1]); pen.lineTo(b[0], b[1]); pen.stroke(); pen.setLineDash([]);
  }
  function figure(pen, t, frame, w, h, ghost) {
    const stance = stanceSide(t, frame);
    for (const [a, b, side] of t.lines) {
      const from = point(t, frame, a), to = point(t, frame, b);
      if (!from || !to) continue;
      const own = side && side === stance;
      line(pen, project(from, t, w, h), project(to, t, w, h), ghost ? "#9aa4af" : SIDE_COLOUR[side],
        ghost ? 1.5 : own ? 4.5 : 2.5, ghost ? [5, 4] : side === "left" && !own ? [8, 3] : []);
    }
    if (ghost) return;
    for (let k = 0; k < t.points.length; k++) {
      const p = point(t, frame, k);
      if (!p || !/^(hip|knee|ankle)_/.test(t.points[k])) continue;
      const [x, y] = project(p, t, w, h);
      pen.fillStyle = "#fff"; pen.strokeStyle = "#1d2733"; pen.lineWidth = 1.5;
      pen.beginPath(); pen.arc(x, y, 4, 0, 7); pen.fill(); pen.stroke();
    }
  }
  function stanceSide(t, frame) {
    const r = repetition(t, frame);
    return t.sides.length === 1 ? t.sides[0] : r ? r[1] : "";
  }
  function trail(pen, t, frame, w, h) {
    const r = repetition(t, frame);
    if (!r) return;
    const knee = t.points.indexOf("knee_" + r[1][0]);
    if (knee < 0) return;
    let before = null;
    for (let k = t.frame(r[2]); k <= frame; k++) {
      const p = point(t, k, knee);
      const here = p && project(p, t, w, h);
      if (before && here) line(pen, before, here, k <= t.frame(r[3]) ? "#d9730d" : "#6d3b7c", 2.5, []);
      before = here;
    }
  }
  function axes(pen, t, frame, w, h) {
    for (let s = 0; s < t.segments.length; s++) {
      const at = (frame * t.segments.length + s) * 3, base = (frame * t.segments.length + s) * 9;
      if (t.origins[at] === MISSING || t.axes[base] === -128) continue;
      const origin = [t.origins[at], t.origins[at + 1], t.origins[at + 2]], from = project(origin, t, w, h);
      AXES.forEach(([, colour, dash], a) => {
        const tip = origin.map((v, i) => v + 110 * t.axes[base + 3 * a + i] / 127);
        line(pen, from, project(tip, t, w, h), colour, 2, dash);
      });
    }
  }
  function draw() {
    const t = current(), [pen, w, h] = fit(canvas), r = repetition(t, state.frame);
    pen.lineCap = "round";
    const ground = t.points.map((n, k) => (/calcaneus|ankle/.test(n) ? point(t, 0, k) : null)).filter(Boolean);
    if (ground.length && state.pitch < 60) {
      const y = Math.min(...ground.map((p) => p[1])), m = t.box.middle;
      for (let k = -4; k <= 4; k++) {
        line(pen, project([m[0] + k * 150, y, m[2] - 600], t, w, h), project([m[0] + k * 150, y, m[2] + 600], t, w, h), "#e4e7eb", 1);
        line(pen, project([m[0] - 600, y, m[2] + k * 150], t, w, h), project([m[0] + 600, y, m[2] + k * 150], t, w, h), "#e4e7eb", 1);
      }
    }
    if (r && $("ghost").checked) figure(pen, t, t.frame(r[2]), w, h, true);
    figure(pen, t, state.frame, w, h, false);
    if ($("axes").checked) axes(pen, t, state.frame, w, h);
    if ($("trail").checked) trail(pen, t, state.frame, w, h);
    pen.fillStyle = "#4f5a66"; pen.font = "13px system-ui, sans-serif";
    pen.fillText(state.view ? state.view[0].toUpperCase() + state.view.slice(1) + " view" : "Free view", 10, 20);
    drawStrip(t);
    follow(t, r);
    say(t, r);
  }
  function drawStrip(t) {
    const [pen, w, h] = fit(strip), side = stanceSide(t, state.frame) || t.sides[0], c = t.curves[side];
    const left = 4, x = (k) => left + (w - 8) * k / Math.max(1, t.count - 1);
    for (const r of t.repetitions) {
      pen.fillStyle = "#eef1f4";
      pen.fillRect(x(t.frame(r[2])), 0, x(t.frame(r[4])) - x(t.frame(r[2])), h);
    }
    let low = 0, high = 100;
    for (const name of ["knee_flexion", "fppa"]) for (const v of c[name]) {
      if (v !== MISSING) { low = Math.min(low, v / 10); high = Math.max(high, v / 10); }
    }
    const y = (v) => h - 6 - (h - 12) * (v - low) / (high - low);
    line(pen, [left, y(0)], [w - 4, y(0)], "#c3cad2", 1);
    for (const [name, colour, dash, word] of [["knee_flexion", "#1d2733", [], "knee flexion"], ["fppa", "#d9730d", [6, 3], "FPPA"]]) {
      pen.strokeStyle = colour; pen.lineWidth = 1.8; pen.setLineDash(dash); pen.beginPath();
      let on = false;
      c[name].forEach((v, k) => {
        if (v === MISSING) { on = false; return; }
        if (on) pen.lineTo(x(k), y(v / 10)); else pen.moveTo(x(k), y(v / 10));
        on = true;
      });
      pen.stroke(); pen.setLineDash([]);
    }
    line(pen, [x(state.frame), 0], [x(state.frame), h], "#6d3b7c", 2);
  }
  function follow(t, r) {
    for (const [id, end] of data.panels || []) {
      const panel = $(id);
      if (!panel) continue;
      let cursor = panel.querySelector(".cursor");
      if (!r || !state.moved) { if (cursor) cursor.remove(); continue; }
      const frame = panel.querySelector("path");
      const box = frame.getBBox();
      if (!cursor) {
        cursor = document.createElementNS("http://www.w3.org/2000/svg", "line");
        cursor.setAttribute("class", "cursor");
        panel.appendChild(cursor);
      }
      const at = box.x + box.width * percent(t, state.frame, r) / end;
      cursor.setAttribute("x1", at); cursor.setAttribute("x2", at);
      cursor.setAttribute("y1", box.y); cursor.setAttribute("y2", box.y + box.height);
    }
  }
  function say(t, r) {
    const side = stanceSide(t, state.frame) || t.sides[0], c = t.curves[side];
    const angle = (name) => (c[name][state.frame] === MISSING ? "\u2013" : (c[name][state.frame] / 10).toFixed(0).replace("-", "\u2212") + "\u00b0");
    const where = r ? "repetition " + r[0] + ", " + percent(t, state.frame, r).toFixed(0) + " %" : "between repetitions";
    status.textContent = t.time(state.frame).toFixed(2) + " s, " + where + "; " + side + " knee flexion " + angle("knee_flexion") + ", FPPA " + angle("fppa");
    slider.value = state.frame;
    slider.setAttribute("aria-valuetext", status.textContent);
    if (r) $("repetition").value = String(t.repetitions.indexOf(r));
  }
  function go(frame) {
    state.frame = Math.max(0, Math.min(current().count - 1, Math.round(frame)));
    state.exact = state.frame;
    state.moved = $("moving").dataset.ready === "yes"; // untouched, the figure leaves no mark in the curves
    draw();
  }
  function view(name) {
    const t = current();
    state.view = name;
    [state.yaw, state.pitch] = VIEWS[name];
    if (name === "sagittal" && (stanceSide(t, state.frame) || t.sides[0]) === "left") state.yaw = -90;
    for (const n of Object.keys(VIEWS)) $("view-" + n).setAttribute("aria-pressed", String(n === name));
    draw();
  }
  function turn(yaw, pitch) {
    state.yaw = (state.yaw + yaw + 540) % 360 - 180;
    state.pitch = Math.max(-90, Math.min(90, state.pitch + pitch));
    state.view = "";
    for (const n of Object.keys(VIEWS)) $("view-" + n).setAttribute("aria-pressed", "false");
    draw();
  }
  function zoom(by) { state.zoom = Math.max(0.4, Math.min(6, state.zoom * by)); draw(); }
  function choose(index) {
    state.trial = index;
    const t = current(), list = $("repetition");
    slider.max = t.count - 1;
    list.replaceChildren();
    t.repetitions.forEach((r, k) => {
      const option = document.createElement("option");
      option.value = String(k);
      option.textContent = "repetition " + r[0] + (t.sides.length > 1 ? ", " + r[1] : "");
      list.appendChild(option);
    });
    list.disabled = t.repetitions.length === 0;
    go(t.repetitions.length ? t.frame(t.repetitions[0][2]) : 0);
    if (state.view) view(state.view);
  }
  function play(on) {
    state.playing = on;
    state.last = 0;
    $("play").textContent = on ? "Pause" : "Play";
    $("play").setAttribute("aria-pressed", String(on));
    if (on) {
      state.moved = true;
      if (state.frame >= current().count - 1) go(0);
      requestAnimationFrame(tick);
    }
  }
  function tick(now) {
    if (!state.playing) return;
    if (state.last) state.exact += (now - state.last) / 1000 * state.speed / current().step;
    state.last = now;
    if (state.exact >= current().count - 1) { go(current().count - 1); play(false); return; }
    const next = Math.floor(state.exact);
    if (next !== state.frame) { state.frame = next; draw(); }
    requestAnimationFrame(tick);
  }

  $("trial").addEventListener("change", (e) => choose(Number(e.target.value)));
  $("repetition").addEventListener("change", (e) => {
    const t = current(); go(t.frame(t.repetitions[Number(e.target.value)][2]));
  });
  $("bottom").addEventListener("click", () => {
    const t = current(), r = t.repetitions[Number($("repetition").value)]; if (r) go(t.frame(r[3]));
  });
  for (const name of Object.keys(VIEWS)) $("view-" + name).addEventListener("click", () => view(name));
  $("play").addEventListener("click", () => play(!state.playing));
  $("speed").addEventListener("click", () => {
    state.speed = state.speed === 1 ? 0.5 : 1;
    $("speed").textContent = state.speed === 1 ? "Full speed" : "Half speed";
    $("speed").setAttribute("aria-pressed", String(state.speed !== 1));
  });
  slider.addEventListener("input", () => { play(false); go(Number(slider.value)); });
  for (const id of ["axes", "trail", "ghost"]) $(id).addEventListener("change", draw);
  const touches = new Map();
  let spread = 0;
  canvas.addEventListener("pointerdown", (e) => { canvas.setPointerCapture(e.pointerId); touches.set(e.pointerId, [e.clientX, e.clientY]); spread = 0; });
  canvas.addEventListener("pointermove", (e) => {
    const before = touches.get(e.pointerId);
    if (!before) return;
    touches.set(e.pointerId, [e.clientX, e.clientY]);
    if (touches.size === 1) turn((e.clientX - before[0]) * -0.5, (e.clientY - before[1]) * 0.5);
    if (touches.size === 2) {
      const [a, b] = [...touches.values()], now = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (spread) zoom(now / spread);
      spread = now;
    }
  });
  for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (e) => { touches.delete(e.pointerId); spread = 0; });
  canvas.addEventListener("wheel", (e) => { if (e.ctrlKey) { e.preventDefault(); zoom(Math.exp(-e.deltaY / 300)); } }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const keys = { ArrowLeft: [6, 0], ArrowRight: [-6, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] };
    if (keys[e.key]) { e.preventDefault(); turn(...keys[e.key]); }
    else if (e.key === "+" || e.key === "=") zoom(1.15);
    else if (e.key === "-") zoom(1 / 1.15);
    else if (e.key === " ") { e.preventDefault(); play(!state.playing); }
  });
  const seek = (e) => { const box = strip.getBoundingClientRect(); play(false); go((e.clientX - box.left - 4) / (box.width - 8) * (current().count - 1)); };
  strip.addEventListener("pointerdown", (e) => { strip.setPointerCapture(e.pointerId); seek(e); });
  strip.addEventListener("pointermove", (e) => { if (e.buttons) seek(e); });
  window.addEventListener("resize", draw);
  choose(0);
  $("moving").dataset.ready = "yes";
})();
