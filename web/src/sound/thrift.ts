import { keepDraft, readDraft } from "../lib/draft";

// When recordings go out: they are large, and a phone's data may be dear. This
// is the device's own choice, not the person's.

export type Thrift = "always" | "wifi" | "asked";

const keyOf = "device:recordings-go";

// line is how this device is connected, where its browser tells: on most
// iPhones and computers it does not.
const line = (): string | undefined => (navigator as { connection?: { type?: string } }).connection?.type;

export const tellsLine = (): boolean => line() !== undefined;
export const thriftNow = (): Thrift => readDraft<Thrift>(keyOf) ?? "always";
export const setThrift = (t: Thrift): void => keepDraft(keyOf, t);

// mayGo tells whether recordings may go out by themselves now.
export function mayGo(): boolean {
  const t = thriftNow();
  return t === "always" || (t === "wifi" && (line() === "wifi" || line() === "ethernet"));
}
