import { useEffect, useRef, useState } from "preact/hooks";
import { index, nearest, type Place, search, type Section, tokens } from "./search";

const most = 30; // places shown

// Finder is the search of the manual: as one types; Enter goes to the first
// place, Escape empties it. What is looked for stands in the address, so that
// going back from a place shows the list again.
export function Finder() {
  const [text, type] = useState(() => new URLSearchParams(location.search).get("q") ?? "");
  const [sections, have] = useState<Section[]>();
  const [failed, fail] = useState(false);
  const list = useRef<HTMLOListElement>(null);
  const wanted = text.trim() !== "";
  useEffect(() => {
    if (!wanted || sections) return;
    let gone = false;
    index().then((all) => { if (!gone) have(all); }, () => { if (!gone) fail(true); });
    return () => { gone = true; };
  }, [wanted, sections]);
  const set = (to: string) => {
    type(to);
    const query = new URLSearchParams(location.search);
    if (to.trim()) query.set("q", to.trim()); else query.delete("q");
    history.replaceState(null, "", location.pathname + (query.size ? `?${query}` : ""));
  };
  const found = sections && wanted ? search(sections, text) : undefined;
  return (
    <search class="no-print">
      <form onSubmit={(e) => { e.preventDefault(); list.current?.querySelector("a")?.focus(); }}>
        <div class="field">
          <label for="find">Look for words in the manual</label>
          <input id="find" type="search" value={text} placeholder="like bare shaft" autocomplete="off" enterkeyhint="search"
            onInput={(e) => set(e.currentTarget.value)} onKeyDown={(e) => { if (e.key === "Escape") set(""); }} />
        </div>
      </form>
      <p role="status" class="small">{!wanted ? "" : failed ? "The manual is not on this device yet, and the notebook does not answer." : !found ? "Looking…" : saysOf(found.length, text)}</p>
      {found && found.length > 0 && <ol class="found" ref={list}>{found.slice(0, most).map((p) => <Found key={`${p.page}#${p.anchor}`} place={p} />)}</ol>}
      {found?.length === 0 && <Nothing sections={sections!} text={text} set={set} />}
    </search>
  );
}

function saysOf(n: number, text: string): string {
  if (n === 0) return `Nothing found for “${text.trim()}”.`;
  return n > most ? `${n} places; these are the first ${most}. Another word narrows it down.` : `${n} ${n === 1 ? "place" : "places"}.`;
}

function Found({ place: p }: { place: Place }) {
  const [before, word, after] = p.around;
  return (
    <li>
      <a href={`/help/${p.page}#${p.anchor}`}>{p.title}</a>
      {p.title !== p.of && <span class="faint small"> in {p.of}</span>}
      <p class="small">{before}{word && <mark>{word}</mark>}{after}</p>
    </li>
  );
}

// Nothing says what to try: the word that is meant, or one word alone.
function Nothing({ sections, text, set }: { sections: Section[]; text: string; set: (text: string) => void }) {
  const words = [...new Set(tokens(text))].slice(0, 6);
  const instead = words.map((w) => nearest(sections, w)), repaired = words.map((w, i) => instead[i] || w).join(" ");
  const tries = [...(instead.some((w) => w !== "") ? [repaired] : []), ...(words.length > 1 ? words : [])].filter((t) => search(sections, t).length > 0);
  return (
    <div class="note">
      {tries.length > 0 ? <p>Try instead:</p> : <p>Try a shorter word, its beginning, or the contents below; the manual calls things as archers do: brace height, bare shaft, tiller.</p>}
      <p class="row">{tries.map((t) => <button key={t} type="button" onClick={() => set(t)}>{t}</button>)}</p>
    </div>
  );
}
