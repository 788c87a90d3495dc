import { useDraft } from "../lib/draft";
import { Field, Quantity } from "../ui/field";
import { nowhere } from "./recorder";
import type { Where } from "./takes";

// WherePhone asks once how the recordings are made; the answers stay for the
// next ones and are stored with each.
export function WherePhone({ draft, open }: { draft: string; open?: boolean }) {
  const [where, set] = useDraft<Where>(draft, nowhere);
  const put = (field: keyof Where) => (v: string) => set((now) => ({ ...now, [field]: v }));
  return (
    <details open={open}>
      <summary>Which phone, and where it lies</summary>
      <p class="faint">Loudness compares only inside one arrangement: same phone, same place, same bale. It is stored with every recording from now on. Phones and helpers stay behind the line.</p>
      <Field label="Phone" value={where.phone} onInput={put("phone")} name="phone" placeholder="my phone" />
      <Field label="Where it lies" value={where.where} onInput={put("where")} name="where" placeholder="on the quiver, 1 m to the left" />
      <Field label="Place" value={where.place ?? ""} onInput={put("place")} name="place" placeholder="club hall, lane 3" />
      <Quantity label="Archer to bale" quantity="distance" value={where.bale} onInput={put("bale")} name="distance_to_bale" placeholder="5 m" />
    </details>
  );
}
