// Requests to the program behind the page.

const name = Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");

/** What the program refused, with its words and the places in the sheet. */
export class Refused extends Error {
  constructor(said) {
    super(said.text);
    this.problems = said.problems ?? [];
  }
}

async function post(path, body, signal, as) {
  const answer = await fetch(path, {
    method: "POST",
    headers: { "content-type": "application/json", "x-baysoak-page": `${name}-${as}` },
    body: JSON.stringify(body),
    signal,
  });
  if (!answer.ok) {
    const said = await answer.json().catch(() => ({ text: `${answer.status} ${answer.statusText}` }));
    throw new Refused(said);
  }
  return answer;
}

export async function lists() {
  const answer = await fetch("/api/lists");
  if (!answer.ok) throw new Error(`${answer.status} ${answer.statusText}`);
  return answer.json();
}

export async function check(asked, signal) {
  return (await post("/api/check", asked, signal, "check")).json();
}

/** Starts a work; `on[event](text)` gets what it finds. A work of the same kind of this page stops the one before. */
export async function work(kind, asked, on, signal) {
  const answer = await post(`/api/${kind}`, asked, signal, kind);
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    rest += value;
    let end;
    while ((end = rest.indexOf("\n\n")) >= 0) {
      const lines = rest.slice(0, end).split("\n");
      rest = rest.slice(end + 2);
      const event = lines[0].slice("event: ".length);
      const data = lines.slice(1).map((l) => l.slice("data: ".length)).join("\n");
      if (event === "failed") throw new Refused({ text: data });
      on[event]?.(data);
    }
  }
}
