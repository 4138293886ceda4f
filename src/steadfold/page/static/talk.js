// Talking with the server that this page came from, and nobody else.

/** What went wrong, with the status and whatever the server said. */
export class Refused extends Error {
  /** @param {number} status @param {any} told */
  constructor(status, told) {
    super(told && told.say ? told.say : `the page's server answered ${status}`);
    this.status = status;
    this.told = told;
  }
}

/**
 * @param {string} path
 * @param {AbortSignal} [signal]
 * @returns {Promise<any>} null when the answer is of a version that is no more
 */
export async function ask(path, signal) {
  return answered(await fetch(path, { signal, credentials: "same-origin" }));
}

/**
 * @param {string} path
 * @param {AbortSignal} [signal]
 * @returns {Promise<ArrayBuffer>}
 */
export async function bytes(path, signal) {
  const response = await fetch(path, { signal, credentials: "same-origin" });
  if (!response.ok) throw await refusal(response);
  return response.arrayBuffer();
}

/**
 * @param {string} path
 * @param {any} body
 * @returns {Promise<any>}
 */
export async function post(path, body) {
  const headers = { "Content-Type": "application/json" };
  return answered(await fetch(path, { method: "POST", headers, body: JSON.stringify(body), credentials: "same-origin" }));
}

/** @param {Response} response */
async function answered(response) {
  if (!response.ok) throw await refusal(response);
  return response.status === 204 ? null : response.json();
}

/** @param {Response} response */
async function refusal(response) {
  const told = await response.json().catch(() => null);
  return new Refused(response.status, told);
}

/**
 * Notices about a job, for as long as the page is open. A broken line is taken up again.
 * @param {string} path below /notices/
 * @param {(notice: any) => void} hear
 * @param {(up: boolean) => void} state
 */
export function listen(path, hear, state) {
  let wait = 500;
  const open = () => {
    const line = new WebSocket(`ws://${location.host}/notices/${path}`);
    line.onopen = () => { wait = 500; state(true); };
    line.onmessage = (event) => hear(JSON.parse(event.data));
    line.onclose = () => {
      state(false);
      setTimeout(open, wait);
      wait = Math.min(8000, wait * 2);
    };
  };
  open();
}
