// Steps without asking the server again: everything came with the page.
"use strict";
(() => {
  const source = document.getElementById("steps");
  const shown = document.getElementById("step");
  if (!source || !shown) return;
  const { steps, kinds, drawings, drawing_of, passes, base, question } = JSON.parse(source.textContent);
  const at = (id) => document.getElementById(id);
  let n = Number(shown.dataset.n);
  let asks = shown.classList.contains("asks");
  let drawn = null;

  const seen = question ? question + "&seen=1" : "?seen=1";
  const address = () => `${base}/steps/${n}${asks || !steps[n - 1].ask ? question : seen}`;
  const place = (step) => (step.position === null ? "Position not stated" : `Position ${step.position}`);

  // The ring round this position, ticks on those done in this pass, the arrow that leaves it strong.
  const draw = () => {
    const step = steps[n - 1];
    const wanted = drawing_of[step.pass];
    if (wanted === undefined || !drawings[wanted]) return;
    if (drawn !== wanted) at("drawing").innerHTML = drawings[wanted];
    drawn = wanted;
    const done = new Set(steps.slice(0, n - 1).filter((s) => s.pass === step.pass).map((s) => s.position));
    const show = (element, yes) => {
      if (yes) element.removeAttribute("display");
      else element.setAttribute("display", "none");
    };
    for (const head of at("drawing").querySelectorAll("[data-n]")) {
      const position = Number(head.dataset.n);
      show(head.querySelector(".now"), position === step.position);
      show(head.querySelector(".done"), position !== step.position && done.has(position));
    }
    for (const arrow of at("drawing").querySelectorAll("[data-from]")) {
      arrow.setAttribute("opacity", Number(arrow.dataset.from) === step.position ? "1" : "0.3");
    }
  };

  const values = (step) => step.actions.map(([words, aside]) => {
    const line = document.createElement("p");
    const value = document.createElement("b");
    value.textContent = words;
    line.append(value);
    if (aside) {
      const small = document.createElement("small");
      small.textContent = aside;
      line.append(" ", small);
    }
    return line;
  });

  const render = () => {
    const step = steps[n - 1];
    const kind = kinds[step.letter];
    shown.dataset.n = n;
    shown.classList.toggle("asks", asks);
    at("pass").textContent = `Pass ${step.pass} of ${passes}`;
    at("position").textContent = place(step);
    at("count").textContent = `Step ${n} of ${steps.length}`;
    at("progress").value = n - 1;
    at("begins").hidden = !step.begins;
    at("value").replaceChildren(...values(step));
    at("picture").innerHTML = kind.picture;
    at("head").textContent = kind.head;
    at("under").textContent = kind.under;
    at("next").textContent = asks ? "Yes, show it" : "Done, next";
    at("undo").href = n > 1 ? `${base}/steps/${n - 1}${seen}` : `${base}/start${question}`;
    at("next").href = asks ? `${base}/steps/${n}${seen}` : `${base}/steps/${n + 1}${question}`;
    const what = asks ? `Check the head: ${kind.head}` : step.actions.map(([words]) => words).join(", then ");
    at("said").textContent = `${what}. ${place(step)}, pass ${step.pass}. Step ${n} of ${steps.length}.`;
    document.title = `${place(step)}, pass ${step.pass}`;
    history.replaceState(null, "", address());
    draw();
  };

  // True if the script has done it; false leaves it to the link.
  const next = () => {
    if (asks) asks = false;
    else if (n < steps.length) {
      n += 1;
      asks = steps[n - 1].ask;
    } else return false;
    render();
    return true;
  };

  const undo = () => {
    if (n === 1) return false;
    // The step that is taken back was seen: its value is shown again.
    n -= 1;
    asks = false;
    render();
    return true;
  };

  const plain = (event) => !event.ctrlKey && !event.metaKey && !event.shiftKey && !event.altKey;
  at("next").addEventListener("click", (event) => { if (plain(event) && next()) event.preventDefault(); });
  at("undo").addEventListener("click", (event) => { if (plain(event) && undo()) event.preventDefault(); });

  // Keys and pedals count when they are let go, as touches do; one that was pressed on another page does not count.
  const keys = new Map([[" ", "next"], ["Enter", "next"], ["PageDown", "next"], ["Backspace", "undo"], ["PageUp", "undo"]]);
  let held = null;
  const meant = (event) => {
    const key = keys.get(event.key);
    if (!key || !plain(event)) return null;
    const on = event.target.closest?.("a, button, input, select, textarea, summary");
    if (!on || on.id === "next") return key;
    // What else has the focus keeps its own meaning.
    if (on.id === "undo") return event.key === "PageDown" ? "next" : "undo";
    return key === "undo" && on.tagName === "A" ? key : null;
  };
  document.addEventListener("keydown", (event) => {
    const key = meant(event);
    if (!key) return;
    event.preventDefault();
    if (!event.repeat) held = event.key;
  });
  document.addEventListener("keyup", (event) => {
    const key = meant(event);
    if (!key || held !== event.key) return;
    held = null;
    event.preventDefault();
    at(key).click();
  });

  // A screen that goes dark between two bolts must be woken with oily hands.
  const wake = () => {
    if (navigator.wakeLock && document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {});
  };
  document.addEventListener("visibilitychange", wake);
  wake();
  render();
})();
