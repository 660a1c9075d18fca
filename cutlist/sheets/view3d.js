// The scene turned by hand: translucent solids and cables, drawn far to near on a plain canvas.
// Site frame, facing the wall: x right, y towards the reader, z up.
(() => {
  const canvas = document.getElementById("view3d");
  const brush = canvas && canvas.getContext("2d");
  if (!brush) return;
  document.getElementById("viewer").hidden = false;
  const scene = JSON.parse(document.getElementById("scene").textContent);
  const picked = document.getElementById("picked");
  const pick = document.getElementById("pick");
  const shows = (name) => document.getElementById(`show-${name}`).checked;

  const [low, high] = scene.bounds;
  const middle = low.map((v, i) => (v + high[i]) / 2);
  const size = Math.hypot(...low.map((v, i) => high[i] - v)) || 1;
  const home = { yaw: -0.55, pitch: 0.42, zoom: 1, x: 0, y: 0 };
  let eye = { ...home };
  let chosen = 0;
  let segments = [];  // what can be picked, as drawn last
  let waiting = false;

  const colours = {};
  const readColours = () => {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["paper", "ink", "soft", "positive", "negative", "link", "solid", "battery", "zone"]) {
      colours[name] = style.getPropertyValue(`--${name}`).trim();
    }
  };

  // to [right, down, nearness] in CSS pixels
  let turn;
  const aim = () => {
    const { width, height } = canvas.getBoundingClientRect();
    const [cy, sy, cp, sp] = [Math.cos(eye.yaw), Math.sin(eye.yaw), Math.cos(eye.pitch), Math.sin(eye.pitch)];
    const scale = (0.98 * Math.min(width, height * 1.35) / size) * eye.zoom;
    const far = 3.2 * size;
    turn = (p) => {
      const x = p[0] - middle[0], y = p[1] - middle[1], z = p[2] - middle[2];
      const across = x * cy + y * sy, towards = y * cy - x * sy;
      const near = towards * cp + z * sp;
      const k = scale * far / Math.max(far - near, 0.1 * far);
      return [width / 2 + eye.x + across * k, height / 2 + eye.y - (z * cp - towards * sp) * k, near, k];
    };
    return { width, height };
  };

  const draw = () => {
    waiting = false;
    const { width, height } = aim();
    const dots = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(width * dots) || canvas.height !== Math.round(height * dots)) {
      canvas.width = Math.round(width * dots);
      canvas.height = Math.round(height * dots);
    }
    brush.save();
    brush.setTransform(dots, 0, 0, dots, 0, 0);
    brush.fillStyle = colours.paper;
    brush.fillRect(0, 0, width, height);
    const things = [];
    if (shows("solids")) for (const solid of scene.solids) addSolid(things, solid);
    segments = [];
    for (const cable of scene.cables) addCable(things, cable);
    for (const mark of scene.marks) addMark(things, mark);
    things.sort((a, b) => a.near - b.near);
    for (const thing of things) thing.paint();
    paintNames();
    paintAxes(height);
    brush.restore();
  };
  const redraw = () => { if (!waiting) { waiting = true; requestAnimationFrame(draw); } };

  const addSolid = (things, solid) => {
    const bare = solid.kind === "compartment";
    const colour = { battery: colours.battery, zone: colours.zone, "bus bar": colours.ink }[solid.kind] || colours.solid;
    solid.faces.forEach((face, index) => {
      const rings = face.map((ring) => ring.map(turn));
      const near = rings[0].reduce((sum, p) => sum + p[2], 0) / rings[0].length;
      things.push({ near: bare ? -Infinity : near, paint() {
        brush.beginPath();
        for (const ring of rings) {
          ring.forEach((p, i) => (i ? brush.lineTo(p[0], p[1]) : brush.moveTo(p[0], p[1])));
          brush.closePath();
        }
        brush.setLineDash(bare || solid.kind === "zone" ? [7, 5] : []);
        brush.globalAlpha = bare ? 0 : solid.kind === "bus bar" ? 0.75 : 0.13;
        brush.fillStyle = colour;
        brush.fill("evenodd");
        brush.globalAlpha = 0.45;
        brush.lineWidth = 0.8;
        brush.strokeStyle = colour;
        if (!solid.lines && (!solid.round || index < 2)) brush.stroke();
        brush.globalAlpha = 1;
      } });
    });
    for (const line of solid.lines || []) {
      const flat = line.map(turn);
      const near = flat.reduce((sum, p) => sum + p[2], 0) / flat.length;
      things.push({ near: bare ? -Infinity : near, paint() {
        brush.beginPath();
        flat.forEach((p, i) => (i ? brush.lineTo(p[0], p[1]) : brush.moveTo(p[0], p[1])));
        brush.setLineDash(bare || solid.kind === "zone" ? [7, 5] : []);
        brush.globalAlpha = 0.45;
        brush.lineWidth = 0.8;
        brush.strokeStyle = colour;
        brush.stroke();
        brush.globalAlpha = 1;
      } });
    }
  };

  const addCable = (things, cable) => {
    const strong = cable.number === chosen;
    const lines = [{ points: cable.points, laid: true }];
    if (shows("shortest")) lines.push({ points: cable.shortest, laid: false });
    for (const { points, laid } of lines) {
      let run = 0;
      const flat = points.map(turn);
      for (let i = 1; i < flat.length; i++) {
        const [a, b] = [flat[i - 1], flat[i]];
        const offset = run;
        const wide = laid ? Math.max(2 * cable.radius * a[3], 2.2) + (strong ? 3 : 0) : 1;
        run += Math.hypot(b[0] - a[0], b[1] - a[1]);
        if (laid) segments.push({ a, b, cable });
        things.push({ near: (a[2] + b[2]) / 2 + 1, paint() {
          const dash = { negative: [4 * wide, 1.4 * wide], link: [1.4 * wide, wide] }[cable.pole] || [];
          brush.beginPath();
          brush.moveTo(a[0], a[1]);
          brush.lineTo(b[0], b[1]);
          brush.lineCap = dash.length ? "butt" : "round";
          brush.globalAlpha = chosen && !strong ? 0.35 : 1;
          brush.setLineDash(laid ? dash : [2, 4]);
          brush.lineDashOffset = offset;
          brush.lineWidth = wide;
          brush.strokeStyle = colours[cable.pole];
          brush.stroke();
          brush.globalAlpha = 1;
          brush.setLineDash([]);
        } });
      }
    }
    if (!shows("clamps")) return;
    for (const clamp of cable.clamps) {
      const [x, y, near, k] = turn(clamp);
      const reach = Math.max(1.7 * cable.radius * k, 3);
      things.push({ near: near + 2, paint() {
        brush.lineWidth = 1.5;
        brush.strokeStyle = colours.ink;
        brush.strokeRect(x - reach, y - reach, 2 * reach, 2 * reach);
      } });
    }
  };

  const addMark = (things, mark) => {
    const [x, y, near] = turn(mark.point);
    things.push({ near: near + 3, paint() {
      brush.beginPath();
      brush.arc(x, y, mark.kind === "hole" ? 5 : 2.5, 0, 7);
      brush.lineWidth = 1.2;
      brush.strokeStyle = colours.ink;
      brush.fillStyle = colours.paper;
      if (mark.kind === "stud") brush.fill();
      brush.stroke();
    } });
  };

  const paintNames = () => {
    brush.font = "12px ui-monospace, 'DejaVu Sans Mono', monospace";
    brush.textAlign = "center";
    brush.lineJoin = "round";
    const written = [];
    const write = (words, p, up) => {
      const half = brush.measureText(words).width / 2 + 3;
      let y = p[1] - up;
      // one name above another where they would stand in each other
      const meets = (other) => Math.abs(other.x - p[0]) < half + other.half && Math.abs(other.y - y) < 14;
      for (let hit = written.find(meets); hit; hit = written.find(meets)) y = hit.y - 14;
      written.push({ x: p[0], y, half });
      brush.lineWidth = 3.5;
      brush.strokeStyle = colours.paper;
      brush.strokeText(words, p[0], y);
      brush.fillStyle = colours.ink;
      brush.fillText(words, p[0], y);
    };
    for (const solid of scene.solids) {
      if (solid.kind !== "bus bar") continue;
      const ring = solid.faces[0][0];
      write(solid.name, turn([0, 1, 2].map((i) => ring.reduce((sum, p) => sum + p[i], 0) / ring.length)), 12);
    }
    const cable = scene.cables.find((c) => c.number === chosen);
    if (cable) write(String(cable.number), turn(cable.points[Math.floor(cable.points.length / 2)]), 10);
  };

  const paintAxes = (height) => {
    const foot = [44, height - 44];
    const [cy, sy, cp, sp] = [Math.cos(eye.yaw), Math.sin(eye.yaw), Math.cos(eye.pitch), Math.sin(eye.pitch)];
    const ways = { x: [cy, -sy * sp], y: [sy, cy * sp], z: [0, -cp] };
    brush.lineWidth = 1.5;
    brush.strokeStyle = colours.ink;
    brush.fillStyle = colours.ink;
    for (const [name, way] of Object.entries(ways)) {
      brush.beginPath();
      brush.moveTo(...foot);
      brush.lineTo(foot[0] + 28 * way[0], foot[1] + 28 * way[1]);
      brush.stroke();
      brush.fillText(name, foot[0] + 37 * way[0], foot[1] + 37 * way[1] + 4);
    }
  };

  const choose = (number) => {
    if (number === chosen) return;
    chosen = number;
    const cable = scene.cables.find((c) => c.number === number);
    picked.textContent = cable ? cable.words : "";
    pick.value = cable ? String(number) : "";
    redraw();
  };

  const nearest = (x, y) => {
    let best = 10, found = 0;
    for (const { a, b, cable } of segments) {
      const [ux, uy] = [b[0] - a[0], b[1] - a[1]];
      const t = Math.min(1, Math.max(0, ((x - a[0]) * ux + (y - a[1]) * uy) / (ux * ux + uy * uy || 1)));
      const gap = Math.hypot(x - a[0] - t * ux, y - a[1] - t * uy);
      if (gap < best) { best = gap; found = cable.number; }
    }
    return found;
  };

  const fingers = new Map();
  const at = (event) => { const box = canvas.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
  const zoomBy = (factor) => { eye.zoom = Math.min(40, Math.max(0.2, eye.zoom * factor)); redraw(); };
  const turnBy = (dx, dy) => { eye.yaw += dx; eye.pitch = Math.min(1.57, Math.max(-1.57, eye.pitch + dy)); redraw(); };
  canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); fingers.set(event.pointerId, at(event)); choose(nearest(...at(event))); });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("pointermove", (event) => {
    const now = at(event), was = fingers.get(event.pointerId);
    if (!was) { choose(nearest(...now)); return; }
    const [dx, dy] = [now[0] - was[0], now[1] - was[1]];
    const other = [...fingers].find(([id]) => id !== event.pointerId);
    if (other) {
      const [ox, oy] = other[1];
      eye.x += dx / 2;
      eye.y += dy / 2;
      zoomBy(Math.hypot(now[0] - ox, now[1] - oy) / (Math.hypot(was[0] - ox, was[1] - oy) || 1));
    } else if (event.shiftKey || event.buttons === 2) {
      eye.x += dx;
      eye.y += dy;
      redraw();
    } else turnBy(dx / 180, dy / 180);
    fingers.set(event.pointerId, now);
  });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => { event.preventDefault(); zoomBy(Math.exp(-event.deltaY / 600)); }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const keys = {
      ArrowLeft: () => turnBy(-0.1, 0), ArrowRight: () => turnBy(0.1, 0), ArrowUp: () => turnBy(0, -0.1), ArrowDown: () => turnBy(0, 0.1),
      "+": () => zoomBy(1.2), "=": () => zoomBy(1.2), "-": () => zoomBy(1 / 1.2), 0: () => { eye = { ...home }; redraw(); },
    };
    if (keys[event.key]) { event.preventDefault(); keys[event.key](); }
  });
  pick.addEventListener("change", () => choose(Number(pick.value)));
  for (const name of ["solids", "clamps", "shortest"]) document.getElementById(`show-${name}`).addEventListener("change", redraw);
  document.addEventListener("themechange", () => { readColours(); redraw(); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { readColours(); redraw(); });
  new ResizeObserver(redraw).observe(canvas);
  readColours();
  draw();
  canvas.dataset.drawn = String(segments.length);
})();
