import { useEffect, useState } from "preact/hooks";

// useQuery follows one name of the address's query, so that every view of a
// trial has an address of its own and the back button works.
export function useQuery(name: string): string {
  const read = () => new URLSearchParams(location.search).get(name) ?? "";
  const [value, setValue] = useState(read);
  useEffect(() => {
    const follow = () => setValue(read());
    addEventListener("popstate", follow);
    return () => removeEventListener("popstate", follow);
  }, [name]);
  return value;
}
