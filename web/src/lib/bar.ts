import { useEffect, useState } from "preact/hooks";
import type { Bow, BowView } from "./types";
import { useTheirs } from "./whose";

// The bar says which bow a page is about, what is on it and which session runs
// today: a page of a bow calls useBow.
export interface BarBow { id: string; name: string; archer?: string; demo?: boolean; setup?: { at: string; reason: string }; session?: { at: string; place?: string }; fork?: boolean }

let shown: BarBow | null = null;
const watchers = new Set<(b: BarBow | null) => void>();

function show(bow: BarBow | null): void {
  shown = bow;
  watchers.forEach((w) => w(bow));
}

function barOf(of: BowView | Bow, archer: string): BarBow {
  if (!("bow" in of)) return { id: of.id, name: of.name };
  return { id: of.bow.id, name: of.bow.name, archer, demo: of.demo, setup: of.setup?.setup, session: of.last_session, fork: of.fork !== undefined };
}

// useBow shows a bow in the bar for as long as the page stands.
export function useBow(of: BowView | Bow | undefined): void {
  const archer = useTheirs()(of && "bow" in of ? of : { bow: {} });
  useEffect(() => {
    if (of === undefined) return;
    show(barOf(of, archer));
    return () => show(null);
  }, [of, archer]);
}

export function useBarBow(): BarBow | null {
  const [bow, setBow] = useState(shown);
  useEffect(() => {
    watchers.add(setBow);
    setBow(shown);
    return () => { watchers.delete(setBow); };
  }, []);
  return bow;
}
