// The pages start two scripts beside themselves: the service worker and the
// worker that reads HEIC. The server's policy of trusted types lets "tautline"
// alone name them.

interface Policy { createScriptURL(url: string): unknown }
interface Types { createPolicy(name: string, rules: { createScriptURL: (url: string) => string }): Policy }

type Script = "/worker.js" | "/heic.js";
const scripts: readonly string[] = ["/worker.js", "/heic.js"] satisfies Script[];

let policy: Policy | undefined;

// scriptURL names a script so that the browser starts it.
export function scriptURL(script: Script): string {
  const types = (window as unknown as { trustedTypes?: Types }).trustedTypes;
  policy ??= types?.createPolicy("tautline", { createScriptURL: (url) => (scripts.includes(url) ? url : "") });
  return (policy?.createScriptURL(script) ?? script) as string;
}
