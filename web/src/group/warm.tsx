import { render } from "preact";
import { dropDraft } from "../lib/draft";
import { ArrowList } from "./arrows";
import { Board, type BoardProps } from "./board";
import { EndList } from "./endlist";
import { finish, place, type Belongs, type Plot } from "./plotstate";

const rest = 1200; // ms after the page, for what is in sight first

// warmed runs out of sight, once nobody waits, what the first touch and the
// first closed end will run: what runs for the first time runs slowly, and on a
// slow phone the first arrow would feel so. Nothing of it is kept or sent. It
// gives a way to call it off.
export function warmed(board: BoardProps, plot: Plot, to: Belongs): () => void {
  const off = new AbortController();
  const begin = () => void run(board, plot, to, off.signal).catch(() => undefined); // then the first touch is slower, and no more
  const timer = setTimeout(() => ("requestIdleCallback" in window ? requestIdleCallback(begin) : begin()), rest);
  return () => { clearTimeout(timer); off.abort(); };
}

async function run(board: BoardProps, plot: Plot, to: Belongs, off: AbortSignal): Promise<void> {
  if (off.aborted) return;
  const arrow = place({ ...plot, next: "1" }, { x: 0.1, y: 0.1 }), { end } = finish(arrow, to, 2), nothing = () => undefined;
  const box = document.createElement("div"), inside = document.createElement("div");
  box.append(inside);
  const press = async (key: string) => {
    if (off.aborted) return;
    inside.querySelector(".board-face")?.dispatchEvent(new KeyboardEvent("keydown", { key }));
    await new Promise((done) => setTimeout(done, 50));
  };
  render(
    <>
      <Board {...board} impacts={arrow.open.impacts} earlier={arrow.open.impacts} onPlace={nothing} />
      <ArrowList plot={arrow} set={nothing} face={board.face} shaft={board.shaft} />
      <EndList ends={[{ end, unsent: true }]} faces={[board.face]} shaft={board.shaft} mine={() => false} correct={nothing} />
    </>, inside);
  dropDraft("nothing"); // the way to the disk, with nothing on it
  await press("ArrowRight"); // the cross and the magnifier
  await press("Enter");
  render(null, inside);
}
