// Talking with the office: one request, one answer, and never a guess about what got through.

const PATIENCE_MS = 30_000;
const PATIENCE_PHOTO_MS = 180_000;
const ROOT = "/api/v1/";

/** No answer came. What was asked may or may not have been done. */
export class NoAnswer extends Error {}

export async function call(path, { method = "GET", token, body, form, etag } = {}) {
  const headers = { Accept: "application/json" };
  if (token) {
    headers.Authorization = `Token ${token}`;
  }
  if (etag) {
    headers["If-None-Match"] = etag;
  }
  if (body !== undefined) {
    headers["Content-Type"] = "application/json";
  }
  let answer;
  try {
    answer = await fetch(`${ROOT}${path}`, {
      method, headers, body: form ?? (body === undefined ? undefined : JSON.stringify(body)),
      credentials: "omit", cache: "no-store", redirect: "error",
      signal: AbortSignal.timeout(form ? PATIENCE_PHOTO_MS : PATIENCE_MS),
    });
    return {
      status: answer.status,
      data: await read(answer),
      etag: answer.headers.get("ETag"),
      retryAfter: Number(answer.headers.get("Retry-After")) || null,
      date: Date.parse(answer.headers.get("Date") ?? "") || null,
    };
  } catch (cause) {
    throw new NoAnswer("No answer from the office.", { cause });
  }
}

async function read(answer) {
  if (answer.status === 204 || answer.status === 304) {
    return null;
  }
  const text = await answer.text();
  try {
    return JSON.parse(text);
  } catch {
    // A page of a portal or a proxy is no answer of the office.
    if (answer.ok) {
      throw new NoAnswer("The answer was not the office's.");
    }
    return null;
  }
}

export function codeOf(answer) {
  return answer.data?.errors?.[0]?.code ?? "";
}

export function wordsOf(answer) {
  return (answer.data?.errors ?? []).map((one) => one.message).join(" ");
}

export const pair = (code, label) => call("devices/", { method: "POST", body: { code, label } });
export const fetchPackage = (token, etag) => call("field/", { token, etag });
export const sendBatch = (token, records, sentAt) =>
  call("batches/", { method: "POST", token, body: { sent_at: sentAt, records } });
export const readRun = (token, id) => call(`test-runs/${id}/`, { token });
export const sendReport = (token, body) => call("visit-reports/", { method: "POST", token, body });
export const acknowledge = (token, stop, body) =>
  call(`safety-stops/${stop}/acknowledge/`, { method: "POST", token, body });

export function sendPhoto(token, body, blob) {
  const form = new FormData();
  for (const [name, value] of Object.entries(body)) {
    if (value !== null && value !== undefined && value !== "") {
      form.append(name, value);
    }
  }
  form.append("file", blob, `${body.client_key}.jpg`);
  return call("photos/", { method: "POST", token, form });
}
