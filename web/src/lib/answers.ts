// What an answer to something that was sent means for it. The notebook's own
// refusals are application/problem+json with a code; whatever else comes back,
// a proxy's page or a hotel's portal, says nothing about what was sent.

export const problemKind = "application/problem+json";
const jsonKind = /^application\/(?:[a-z.-]+\+)?json\b/;

// fromNotebook tells the notebook's answers from those of whatever stands in
// between.
export const fromNotebook = (ok: boolean, kind: string): boolean => (ok ? jsonKind.test(kind) : kind.startsWith(problemKind));

const about = [400, 404, 405, 409, 412, 413, 415, 422, 428]; // about what was sent, not about when or by which way

// isFinal says that the same would be refused again: the notebook has read it
// and wants it otherwise. Everything else is worth another try.
export function isFinal(status: number, kind: string, code: string): boolean {
  if (!fromNotebook(false, kind) || code === "not-received") return false;
  return status === 403 ? code === "not-allowed" : about.includes(status);
}

// mayWork says to a page that asked for something that the same may be
// answered later: no answer, an answer from elsewhere, not logged in, too
// fast, or a server that is being started.
export const mayWork = (status: number, kind: string): boolean =>
  status === 0 || (status > 0 && !fromNotebook(false, kind)) || status === 401 || status === 429 || status >= 502;

// stopsWriting are the codes of a notebook that answers and reads but takes
// nothing more until somebody looks after its machine.
export const stopsWriting = (code: string): boolean => code === "read-only" || code === "disk-full";
