import { api, get, Problem, problemOf } from "../lib/http";
import { sha256 } from "./sha256";

// A recording goes to the notebook in parts, so that a proxy which passes on
// only what is whole costs no more than one. What came of a part before the
// connection broke counts as well: the next try goes on from there. The fields
// are those of the IETF's draft "Resumable Uploads for HTTP".

const part = 1 << 20; // bytes: 11 s at 0.75 Mbit/s
const stalled = 45_000; // ms without a byte: the notebook gives up after 30 s

interface Held { bytes: number; hash?: string }

export const uploadPath = (id: string): string => `${api}/recordings/${id}/upload`;

// goesInParts tells whether sending may have to go on where it broke.
export const goesInParts = (sound: Blob): boolean => sound.size > part;

// sendSound brings the bytes to the notebook and gives their hash; begun says
// that this was tried before; stop ends it between two parts and in one.
export async function sendSound(id: string, sound: Blob, begun: boolean, progress: (share: number) => void, stop: AbortSignal): Promise<string> {
  const path = uploadPath(id);
  let here: Held = begun ? await held(path) : { bytes: 0 };
  for (let again = 0; !here.hash; ) {
    try {
      here = await sendPart(path, sound, here.bytes, progress, stop);
    } catch (e) {
      if (!(e instanceof Problem)) throw e;
      if (e.code === "not-found" && here.bytes === 0) return sendWhole(id, sound, progress, stop); // a program that takes no parts yet
      if (e.code !== "other-offset" || again++ > 2) throw e;
      here = await held(path);
    }
  }
  return here.hash;
}

// held asks how much is there: nothing of what was given up after a day, or
// begun by somebody else on this device.
async function held(path: string): Promise<Held> {
  try {
    return await get<Held>(path);
  } catch (e) {
    if (e instanceof Problem && e.code === "not-found") return { bytes: 0 };
    throw e;
  }
}

async function sendPart(path: string, sound: Blob, at: number, progress: (share: number) => void, stop: AbortSignal): Promise<Held> {
  const end = Math.min(at + part, sound.size), last = end === sound.size;
  const headers: Record<string, string> = { "Content-Type": "application/partial-upload", "Upload-Offset": String(at), "Upload-Length": String(sound.size), "Upload-Complete": last ? "?1" : "?0" };
  if (last) headers["Repr-Digest"] = `sha-256=:${btoa(String.fromCharCode(...await sha256(sound)))}:`;
  return send<Held>("PATCH", path, sound.slice(at, end), headers, (sent) => progress((at + sent) / sound.size), stop);
}

async function sendWhole(id: string, sound: Blob, progress: (share: number) => void, stop: AbortSignal): Promise<string> {
  const headers = { "Content-Type": "application/octet-stream" };
  return (await send<Held & { hash: string }>("PUT", `${api}/recordings/${id}/sound`, sound, headers, (sent) => progress(sent / sound.size), stop)).hash;
}

// send sends bytes with word of how many are gone, which fetch has not. A line
// on which nothing moves any more is given up.
function send<T extends Held>(method: string, path: string, body: Blob, headers: Record<string, string>, progress: (sent: number) => void, stop: AbortSignal): Promise<T> {
  return new Promise((done, fail) => {
    const xhr = new XMLHttpRequest(), end = () => xhr.abort();
    let quiet = 0;
    const moves = () => { clearTimeout(quiet); quiet = setTimeout(() => xhr.abort(), stalled); };
    xhr.open(method, path);
    xhr.responseType = "json";
    for (const [name, value] of Object.entries(headers)) xhr.setRequestHeader(name, value);
    xhr.upload.onprogress = (e) => { moves(); progress(e.loaded); };
    xhr.onload = () => {
      const said = xhr.response as T | null;
      if (xhr.status < 300 && typeof said?.bytes === "number") return done(said);
      fail(problemOf(xhr.status, xhr.statusText, xhr.getResponseHeader("Content-Type") ?? "", said));
    };
    xhr.onerror = xhr.onabort = () => fail(new Problem(0, "No answer", "The connection broke while the recording was on its way.", "It goes on from there when the notebook answers.", []));
    xhr.onloadend = () => { clearTimeout(quiet); stop.removeEventListener("abort", end); };
    stop.addEventListener("abort", end);
    moves();
    xhr.send(body);
    if (stop.aborted) end();
  });
}
