// A long work behind a form: its progress, its stop, and whether what it found still belongs to the car.

import { el } from "./figures.js";

const $ = (id) => document.getElementById(id);

/** What is wrong, in the words of the program. */
export function faults(error) {
  const texts = error.problems?.length ? error.problems.map((p) => p.text) : [error.message];
  return texts.map((t) => el("p", { className: "alarm pre", textContent: t }));
}

export class Job {
  #running = null;

  constructor(name) {
    this.box = document.querySelector(`[data-job=${name}]`);
    this.into = $(`${name}-said`);
    [this.bar, this.stage, this.button] = this.box.children;
    this.button.addEventListener("click", () => this.stop("Stopped."));
  }

  /** Ends what is under way; the program behind the page stops too. */
  stop(why) {
    if (!this.#running) return;
    this.#running.abort();
    this.#running = null;
    this.box.hidden = true;
    this.into.replaceChildren(el("p", { className: "note", textContent: why }));
  }

  /** The car has changed: stops what is under way, and says of what is shown that it is of before. */
  changed() {
    this.stop("Stopped, since the car has changed.");
    if (this.into.children.length > 1 && !this.into.querySelector(".before")) {
      this.into.prepend(el("p", { className: "note before", textContent: "This is of the car before its last change." }));
    }
  }

  /** Runs `start(signal, progress)`; one at a time. */
  async run(start) {
    this.#running?.abort();
    const own = this.#running = new AbortController();
    this.box.hidden = false;
    this.bar.removeAttribute("value");
    this.stage.textContent = "";
    try {
      await start(own.signal, (data) => {
        const { stage, share } = JSON.parse(data);
        this.stage.textContent = stage;
        if (share === null) this.bar.removeAttribute("value"); else this.bar.value = share;
      });
    } catch (error) {
      if (error.name !== "AbortError") this.into.replaceChildren(...faults(error));
    }
    if (this.#running === own) {
      this.#running = null;
      this.box.hidden = true;
    }
  }
}

/** Saves a text as a file of the user's. */
export function save(name, type, text) {
  const url = URL.createObjectURL(new Blob([text], { type }));
  el("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}
