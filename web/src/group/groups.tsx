export function GroupsPage({ bowId }: { bowId: string }) { return <p>{bowId}</p>; }
