// Sends what is kept, in the order entered, until the server has said "saved" of each; tries again on its own.
const AT_A_TIME = 50;
const PATIENCE_MS = 10_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 30_000;

export class NoSignal extends Error {}

export async function ask(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS), ...options });
  } catch {
    throw new NoSignal("The server cannot be reached.");
  }
  const said = await answer.json().catch(() => ({}));
  if (answer.ok) return said;
  const problem = new Error(said.sentence ?? `The server refuses (${answer.status}).`);
  problem.status = answer.status;
  throw problem;
}

export function sender(store, device, hear) {
  let wait = FIRST_WAIT_MS;
  let timer = 0;
  let running = null;
  let again = false;

  async function waiting() {
    return (await store.all("entries")).filter((entry) => !entry.refused).sort((a, b) => a.seq - b.seq);
  }

  async function post(entries) {
    const sent = entries.map(({ id, job, kind, of, at_ms }) => ({ id, job, kind, of, at_ms }));
    const body = JSON.stringify({ device, clock_ms: Date.now(), entries: sent });
    return ask("entries", { method: "POST", headers: { "content-type": "application/json" }, body });
  }

  async function settle(entries, answer) {
    for (const result of answer.results) {
      const entry = entries.find((each) => each.id === result.id);
      if (!entry) continue;
      if (result.state === "saved") await store.remove("entries", entry.seq);
      if (result.state === "refused") await store.put("entries", { ...entry, refused: result.sentence });
    }
    return answer.results.find((result) => result.state === "kept");
  }

  async function round() {
    let most = AT_A_TIME;
    for (let entries = await waiting(); entries.length; entries = await waiting()) {
      const some = entries.slice(0, most);
      let answer;
      try {
        answer = await post(some);
      } catch (problem) {
        if (problem instanceof NoSignal || problem.status >= 500) {
          if (problem instanceof NoSignal || some.length === 1) throw problem;
          most = 1; // one of them is at fault: those before it get through
        } else if (some.length > 1) most = 1;
        else if (problem.status === 400) await store.put("entries", { ...some[0], refused: problem.message });
        else throw problem;
        continue;
      }
      const kept = await settle(some, answer);
      hear.answered(some, answer);
      if (kept) throw new Error(kept.sentence);
    }
  }

  async function once() {
    clearTimeout(timer);
    try {
      await (navigator.locks?.request("sludgebook-send", round) ?? round()); // two windows of one phone take turns
      wait = FIRST_WAIT_MS;
      hear.reached();
    } catch (problem) {
      hear.failed(problem);
      timer = setTimeout(send, wait);
      wait = Math.min(LONGEST_WAIT_MS, wait * 2);
    }
  }

  function send() {
    if (running) {
      again = true;
      return running;
    }
    running = once().finally(() => {
      running = null;
      if (again) {
        again = false;
        send();
      }
    });
    return running;
  }

  function atOnce() {
    wait = FIRST_WAIT_MS;
    return send();
  }
  return { send: atOnce, waiting };
}
