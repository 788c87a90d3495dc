import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { Board, type BoardProps } from "../group/board";
import type { Update } from "../lib/draft";
import { uuidv7 } from "../lib/uuid";
import { Note } from "../ui/field";
import { Waits } from "../ui/states";
import { HelpLine } from "../ui/helpline";
import { PhotoProblem, upright } from "./circles";
import { Finding } from "./finding";
import { keepPicture, readPicture, straightened, usePicture, type Shot } from "./picture";
import { Residual } from "./residual";
import { noPhoto, type Photo } from "./state";

interface Props { draft: string; photo: Photo; set: Update<Photo>; board: BoardProps }

// PhotoFace is the face to plot on as a picture that was taken of it: choose
// it, find the rings, say what is upright, then tap the holes.
export function PhotoFace({ draft, photo, set, board }: Props) {
  const [fresh, setFresh] = useState<Shot>();
  const [problem, say] = useState("");
  const [homeless, setHomeless] = useState(false);
  const box = useInSight(photo.step);
  const { shot, gone } = usePicture(draft, photo.picture, fresh);
  const tried = <T,>(f: () => T): T | undefined => {
    try { const v = f(); say(""); return v; } catch (e) { if (!(e instanceof PhotoProblem)) throw e; say(e.message); return undefined; }
  };
  const [opening, setOpening] = useState<AbortController>();
  useEffect(() => () => opening?.abort(), [opening]);
  const choose = async (file: File | undefined) => {
    if (!file) return;
    const id = uuidv7(), stop = new AbortController();
    say("");
    setOpening(stop);
    try {
      const shot = await readPicture(id, file, stop.signal);
      setFresh(shot);
      setHomeless(!(await keepPicture(draft, shot)));
      set((now) => ({ ...noPhoto, end: now.end, picture: id }));
    } catch (e) {
      if (!stop.signal.aborted) say(e instanceof PhotoProblem ? e.message : "The picture could not be opened. Try another one.");
    } finally {
      setOpening(undefined);
    }
  };
  const other = photo.face !== "" && photo.face !== board.face.key, current = other ? anew(photo) : photo;
  useEffect(() => { if (other) set(anew); }, [other]);
  if (board.face.zones.length === 0) return <Note kind="warn">Blank paper has no rings to measure a picture by. Choose the printed face above, or plot without a picture.</Note>;
  const away = () => { say(""); set((now) => ({ ...noPhoto, end: now.end })); };
  return (
    <section ref={box} class="photo" aria-label="Photo of the face">
      {!photo.picture || gone ? <Choose choose={choose} gone={gone} opening={opening} /> : !shot ? <Waits what="Opening the picture…" />
        : current.step === "done" && current.map ? <Straight shot={shot} photo={current} board={board} set={set} away={away} />
        : <Finding shot={shot} photo={current} set={set} face={board.face} enlarge={board.enlarge} tried={tried} away={away} straighten={(mark) => tried(() => { const map = upright(current.found!.map, mark); set((now) => ({ ...now, map, step: "done" })); })} />}
      {problem && <Note kind="bad"><span role="alert">{problem}</span></Note>}
      {homeless && <Note kind="warn">This device has no room to keep the picture. The arrows are kept; after a reload the picture has to be chosen again.</Note>}
    </section>
  );
}

// useInSight brings the picture back into sight when the next step begins: the
// button that led there lies below it.
function useInSight(step: string) {
  const box = useRef<HTMLElement>(null), before = useRef(step);
  useEffect(() => {
    if (before.current !== step) box.current?.scrollIntoView({ block: "start" });
    before.current = step;
  }, [step]);
  return box;
}

// anew keeps the picture and looks for the rings again, of another face.
const anew = (now: Photo): Photo => ({ ...noPhoto, end: now.end, picture: now.picture });

function Choose({ choose, gone, opening }: { choose: (f: File | undefined) => Promise<void>; gone: boolean; opening?: AbortController }) {
  if (opening) {
    return (
      <div class="card">
        <Waits what="Opening the picture. A large HEIC picture may take half a minute on a phone." />
        <button type="button" class="quiet" onClick={() => opening.abort()}>Stop</button>
      </div>
    );
  }
  return (
    <div class="card">
      <div class="field">
        <label for="face-photo">Take or choose a picture of the face</label>
        <p class="help" id="face-photo-help">The whole face in it, sharp, from as straight ahead as you can stand; the arrows drawn, the range clear. It stays on this device.</p>
        <input id="face-photo" type="file" accept="image/*" aria-describedby="face-photo-help" onChange={(e) => { void choose(e.currentTarget.files?.[0]); e.currentTarget.value = ""; }} />
      </div>
      <HelpLine to="plot-and-compare#from-a-photo-of-the-face">How it is done, and how exact it is</HelpLine>
      {gone && <Note kind="warn">The picture is no longer on this device. Choose it again; the arrows plotted so far are kept.</Note>}
    </div>
  );
}

// Straight is the rectified picture to tap the holes on, with how well it
// fits.
function Straight({ shot, photo, board, set, away }: { shot: Shot; photo: Photo; board: BoardProps; set: Update<Photo>; away: () => void }) {
  const ground = useMemo(() => straightened(shot, photo.map!, board.face), [shot, photo.map, board.face]);
  return (
    <>
      <Board {...board} ground={ground} label={`The picture seen from straight ahead. ${board.label}`} />
      <Residual photo={photo} />
      <div class="row">
        <button type="button" class="quiet" onClick={() => set((now) => ({ ...now, step: now.found?.hand ? "hand" : "rings" }))}>Look at the rings again</button>
        <button type="button" class="quiet" onClick={away}>Another picture</button>
      </div>
    </>
  );
}
