import { allRows } from "./load";
import { api, get } from "./http";
import { keepSeen } from "./seen";
import type { BenchView } from "./types";

// takeAlong keeps on this device what the range needs of every bow on the
// bench, opened before or not: whoever looked at the bench at home has the
// bows, their set-ups and the open trials with them where there is no network.
// Nothing is fetched while the page is out of sight or the person saves data.
const most = 12; // bows
const every = 10 * 60_000; // ms
let last = 0;

export async function takeAlong(bench: BenchView): Promise<void> {
  const thrifty = (navigator as { connection?: { saveData?: boolean } }).connection?.saveData;
  if (document.hidden || thrifty || Date.now() - last < every) return;
  last = Date.now();
  const one = async <T>(path: string): Promise<T> => {
    const value = await get<T>(api + path);
    keepSeen(path, value);
    return value;
  };
  const list = async (path: string) => keepSeen(path, await allRows(path));
  try {
    await one("/faces");
    for (const { bow, setup, open_trial: trial } of bench.bows.slice(0, most)) {
      if (!setup) continue;
      await one(`/bows/${bow.id}`);
      await one(`/bows/${bow.id}/setups`);
      await one(`/sessions?bow=${bow.id}&limit=500`);
      if (!trial) continue;
      const { setup: from } = (await one<{ trial: { setup: string } }>(`/trials/${trial.id}`)).trial;
      await one(`/setups/${from}`);
      await list(`/ends?trial=${trial.id}`);
    }
  } catch {
    last = 0; // out of reach: at the next look
  }
}
