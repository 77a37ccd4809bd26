// Finds while one types: the same page is asked for its results alone.
"use strict";
(() => {
  const form = document.querySelector("form.find");
  const results = document.getElementById("results");
  if (!form || !results) return;
  let waiting = 0;
  let asked = 0;

  const find = async () => {
    const question = new URLSearchParams(new FormData(form));
    for (const [name, value] of [...question]) if (!value.trim()) question.delete(name);
    const address = form.action + (String(question) ? "?" + question : "");
    const number = ++asked;
    question.set("part", "results");
    try {
      const answer = await fetch(form.action + "?" + question, { headers: { accept: "text/html" } });
      // An answer that is overtaken by a later question is not shown.
      if (!answer.ok || number !== asked) return;
      results.innerHTML = await answer.text();
      history.replaceState(null, "", address);
    } catch {
      // Without a network the button still asks in the ordinary way.
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(find, 150);
  });
})();
