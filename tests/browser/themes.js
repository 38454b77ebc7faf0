// The two themes of a page.

/**
 * Runs `inLight` on the page that came as `light`, then switches it to the dim theme where it stands, as the page's own
 * script does on a page with answers in it: that spares loading it a second time. Gives whether the page has themes at
 * all, and proves that the switched page is what the server sends in the dim theme, `dim`: `otherwise` tells what is
 * not, as pairs of lines.
 */
export async function switchToDim(page, light, dim, inLight) {
  const themed = /<html[^>]* data-theme="dim"/.test(dim);
  if (themed) await inLight();
  const otherwise = await page.evaluate(
    ([light, dim, themed]) => {
      const parsed = (html) => new DOMParser().parseFromString(html, "text/html");
      const dimmed = (root) => {
        root.documentElement.dataset.theme = "dim";
        root.querySelector(".not-a-safelight").hidden = false;
        const button = root.querySelector("form[data-theme-switch] button");
        button.value = "light";
        button.textContent = "Make this page light";
        return root;
      };
      // each time a page is sent, its forms have an id of their own, and a new section another proposal for its door
      const drawn = /(name="(?:form_id|door_code)" value=")[^"]*/g;
      const lines = (root) => root.documentElement.outerHTML.replace(drawn, "$1").split("\n");
      if (themed) dimmed(document);
      const switched = lines(themed ? dimmed(parsed(light)) : parsed(light));
      const sent = lines(parsed(dim));
      const both = Array.from({ length: Math.max(switched.length, sent.length) }, (_, n) => [switched[n] ?? "", sent[n] ?? ""]);
      return both.filter(([here, there]) => here !== there).map(([here, there]) => `“${here.trim()}” and “${there.trim()}”`);
    },
    [light, dim, themed],
  );
  return { themed, otherwise };
}
