import { useEffect, useState } from "preact/hooks";

// The bar says which bow a page is about: a page of a bow calls useBow.
export interface BarBow { id: string; name: string }

let shown: BarBow | null = null;
const watchers = new Set<(b: BarBow | null) => void>();

function show(bow: BarBow | null): void {
  shown = bow;
  watchers.forEach((w) => w(bow));
}

// useBow shows a bow in the bar for as long as the page stands.
export function useBow(bow: BarBow | undefined): void {
  const id = bow?.id, name = bow?.name;
  useEffect(() => {
    if (id === undefined || name === undefined) return;
    show({ id, name });
    return () => show(null);
  }, [id, name]);
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
