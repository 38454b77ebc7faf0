// In which face the words of a page are drawn.

/** The family name in the files of static/faces. */
export const FACE = "Shimlight Text";

/** A letter of a script that the face has not: it is drawn in whatever the computer has. */
const FOREIGN = /(?![\p{Script=Latin}\p{Script=Cyrillic}\p{Script=Greek}\p{Script=Common}\p{Script=Inherited}])\p{L}/u;

/** A part that follows what others do may have been put in anew meanwhile: its nodes are gone. */
const gone = (error) => {
  if (!/(find|No) node/i.test(error.message)) throw error;
};

/** Every element with words of its own, in the order of the page. */
const WITH_WORDS = "//body//*[text()[normalize-space()] or self::input or self::textarea or self::select]";

/**
 * Which of those elements stand for all of them, by their places: a face is chosen by style, language and letters, so
 * whatever is set like one before it and has none but its letters is drawn in its face. Asking for each takes long.
 */
const standing = ([query, foreign]) => {
  const found = document.evaluate(query, document, null, XPathResult.ORDERED_NODE_SNAPSHOT_TYPE, null);
  const seen = new Set();
  const places = [];
  for (let place = 0; place < found.snapshotLength; place += 1) {
    const it = found.snapshotItem(place);
    const { font, textTransform, fontVariant } = getComputedStyle(it);
    const around = ["::before", "::after", "::marker", "::placeholder"].map((part) => getComputedStyle(it, part).content);
    const style = [it.tagName, it.type, font, fontVariant, textTransform, it.closest("[lang]")?.lang, ...around].join();
    // unlike others, these letters never join with those beside them
    const words = `${it.value ?? ""} ${it.placeholder ?? ""} ${it.textContent}`.split(/\s+/);
    const letters = words.flatMap((word) => (/^[\x21-\x7e]*$/.test(word) ? [...word] : [word]));
    const unseen = letters.map((letter) => `${style}\n${letter}`).filter((letter) => !seen.has(letter));
    if (unseen.length === 0) continue;
    places.push(place);
    // what is let pass for a foreign letter in it stands for nothing else
    if (!new RegExp(foreign, "u").test(words.join(" "))) for (const letter of unseen) seen.add(letter);
  }
  return { places, count: found.snapshotLength };
};

/**
 * The elements whose own words are drawn in another face, as `words: face`; of those that are set alike and have the
 * same letters, the first.
 */
export async function otherFaces(page) {
  const session = await page.context().newCDPSession(page);
  try {
    await session.send("DOM.enable");
    await session.send("CSS.enable");
    await session.send("DOM.getDocument", { depth: 0 });
    const { places, count } = await page.evaluate(standing, [WITH_WORDS, FOREIGN.source]);
    const { searchId, resultCount } = await session.send("DOM.performSearch", { query: WITH_WORDS });
    if (resultCount === 0) return [];
    const all = await session.send("DOM.getSearchResults", { searchId, fromIndex: 0, toIndex: resultCount });
    // a part that follows others may have been put in anew in between: then each is asked
    const nodeIds = count === resultCount ? places.map((place) => all.nodeIds[place]) : all.nodeIds;
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
