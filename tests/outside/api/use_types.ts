// A program that uses the types generated from the document: it must compile strictly, and what is wrong must not.
import type { components, operations } from "./clampbook";

type Fastener = components["schemas"]["FastenerEntry"];
type Query = NonNullable<operations["list_fasteners"]["parameters"]["query"]>;

/** What a screen shows of a fastener: the value as stated, and how far to trust it. */
export function shown(fastener: Fastener): string {
    const checked: boolean = fastener.book.is_checked;
    const stages: readonly string[] = fastener.stages;
    return `${fastener.id}: ${stages.join(", then ")} (${checked ? "checked" : "unchecked"})`;
}

export async function find(base: string, query: Query): Promise<Fastener[]> {
    const words = Object.entries(query).map(([name, value]) => [name, String(value)]);
    const answer = await fetch(`${base}/v1/fasteners?${new URLSearchParams(words)}`);
    if (!answer.ok) {
        const problem: components["schemas"]["Problem"] = await answer.json();
        throw new Error(problem.errors?.map((error) => error.detail).join("; ") ?? problem.detail);
    }
    const page: operations["list_fasteners"]["responses"]["200"]["content"]["application/json"] = await answer.json();
    return page.items;
}

export const question: Query = { head: ["hexagon", "hexagon-flange"], "torque.min": 10, take: 5 };
// @ts-expect-error There is no such head.
export const wrong: Query = { head: ["hexagonal"] };
// @ts-expect-error A fastener has a thread.
export const half: components["schemas"]["FastenerInput"] = { joint: "skua.diesel", stages: ["hand"] };
