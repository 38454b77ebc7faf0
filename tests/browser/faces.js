// In which face the words of a page are drawn.

/** The family name in the files of static/faces. */
export const FACE = "Shimlight Text";

/** A letter of a script that the face has not: it is drawn in whatever the computer has. */
const FOREIGN = /(?![\p{Script=Latin}\p{Script=Cyrillic}\p{Script=Greek}\p{Script=Common}\p{Script=Inherited}])\p{L}/u;

/** A part that follows what others do may have been put in anew meanwhile: its nodes are gone. */
const gone = (error) => {
  if (!/(find|No) node/i.test(error.message)) throw error;
};

/** Every element whose own words are drawn in another face, as `words: face`. */
export async function otherFaces(page) {
  const session = await page.context().newCDPSession(page);
  try {
    await session.send("DOM.enable");
    await session.send("CSS.enable");
    await session.send("DOM.getDocument", { depth: 0 });
    const query = "//body//*[text()[normalize-space()] or self::input or self::textarea or self::select]";
    const { searchId, resultCount } = await session.send("DOM.performSearch", { query });
    if (resultCount === 0) return [];
    const { nodeIds } = await session.send("DOM.getSearchResults", { searchId, fromIndex: 0, toIndex: resultCount });
    const found = await Promise.all(
      nodeIds.map(async (nodeId) => {
        const drawn = await session.send("CSS.getPlatformFontsForNode", { nodeId }).catch(gone);
        const others = (drawn?.fonts ?? []).filter((font) => font.familyName !== FACE).map((font) => font.familyName);
        if (others.length === 0) return [];
        const node = await session.send("DOM.resolveNode", { nodeId }).catch(gone);
        if (!node) return [];
        const { result } = await session.send("Runtime.callFunctionOn", {
          objectId: node.object.objectId,
          functionDeclaration: "function () { return (this.value ?? this.textContent) || this.outerHTML; }",
          returnByValue: true,
        });
        const words = String(result.value).replace(/\s+/g, " ").trim();
        return FOREIGN.test(words) ? [] : [`“${words.slice(0, 80)}” in ${others.join(", ")}`];
      }),
    );
    return found.flat();
  } finally {
    await session.detach();
  }
}
