// Opens pages in a real browser and holds them against what a reader needs:
// no accessibility violation (axe-core), no sideways scrolling on a phone,
// nothing fetched, nothing run, and a print that loses no text at its edge.
//
//   node check.mjs FOLDER PAGE.html...
//
// FOLDER holds node_modules with axe-core and playwright-core. With SHOTS set,
// pictures and PDFs of every page are left in that folder to look at.
import { createRequire } from 'node:module'
import { readFileSync, existsSync, mkdirSync } from 'node:fs'
import { basename, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'

const [folder, ...pages] = process.argv.slice(2)
const require = createRequire(pathToFileURL(resolve(folder) + '/'))
const { chromium } = require('playwright-core')
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8')
const shots = process.env.SHOTS
if (shots) mkdirSync(shots, { recursive: true })

const browserPath = [process.env.CHROMIUM, '/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find((p) => p && existsSync(p))
const browser = await chromium.launch({ executablePath: browserPath, args: ['--no-sandbox', '--disable-gpu'] })
console.log(`${browserPath}, ${browser.version()}`)
let bad = 0
const fail = (page, how, text) => {
  bad++
  console.log(`FAIL ${basename(page)} ${how}: ${text}`)
}

for (const page of pages) {
  for (const width of [390, 1280]) {
    for (const colorScheme of ['light', 'dark']) {
      const how = `${width}px ${colorScheme}`
      const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme })
      const tab = await context.newPage()
      const requests = []
      const messages = []
      tab.on('request', (r) => requests.push(r.url()))
      tab.on('console', (m) => messages.push(m.text()))
      tab.on('pageerror', (e) => messages.push(String(e)))
      await tab.goto(pathToFileURL(resolve(page)).href)
      if (requests.length !== 1) fail(page, how, `fetched ${requests.slice(1).join(', ')}`)
      if (messages.length) fail(page, how, `the browser says: ${messages.join(' | ')}`)
      const found = await tab.evaluate(() => ({
        wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
        over: [...document.querySelectorAll('main *')].filter((e) => e.getBoundingClientRect().right > window.innerWidth + 1 && !e.closest('svg') && !e.closest('thead'))
          .slice(0, 3).map((e) => e.outerHTML.slice(0, 90)),
        scripts: document.scripts.length,
        h1: document.querySelectorAll('h1').length,
        main: document.querySelectorAll('main').length,
        lang: document.documentElement.lang,
        bare: [...document.querySelectorAll('th')].filter((e) => !e.scope).length,
        nameless: [...document.querySelectorAll('svg[role=img]')].filter((e) => !e.querySelector('title') || !e.querySelector('desc')).length,
        captions: [...document.querySelectorAll('table')].filter((e) => !e.caption).length,
      }))
      if (found.wide > 0) fail(page, how, `scrolls sideways by ${found.wide}px`)
      if (found.over.length) fail(page, how, `runs over the edge: ${found.over.join(' ')}`)
      if (found.scripts) fail(page, how, `${found.scripts} scripts`)
      if (found.h1 !== 1 || found.main !== 1 || !found.lang) fail(page, how, `h1 ${found.h1}, main ${found.main}, lang "${found.lang}"`)
      if (found.bare) fail(page, how, `${found.bare} header cells without scope`)
      if (found.nameless) fail(page, how, `${found.nameless} drawings without title and desc`)
      if (found.captions) fail(page, how, `${found.captions} tables without a caption`)
      await tab.evaluate(axe)
      const result = await tab.evaluate(() => window.axe.run(document, { resultTypes: ['violations', 'incomplete'] }))
      for (const v of result.violations) fail(page, how, `${v.id}: ${v.help} (${v.nodes.length}): ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 140)).join('\n     ')}`)
      // drawings: axe cannot tell what lies under their text; the colours are held to 4.5:1 by a test of their own
      for (const v of result.incomplete) v.nodes = v.nodes.filter((n) => !n.html.startsWith('<text'))
      for (const v of result.incomplete.filter((v) => v.nodes.length)) console.log(`  look ${basename(page)} ${how}: ${v.id} could not be decided (${v.nodes.length}): ${v.nodes[0].html.slice(0, 120)}`)
      if (shots) await tab.screenshot({ path: `${shots}/${basename(page, '.html')}-${width}-${colorScheme}.png`, fullPage: true })
      await context.close()
    }
  }
  for (const format of ['A4', 'Letter']) {
    const tab = await browser.newPage()
    await tab.goto(pathToFileURL(resolve(page)).href)
    await tab.emulateMedia({ media: 'print', colorScheme: 'dark' })
    const ground = await tab.evaluate(() => getComputedStyle(document.body).backgroundColor)
    if (ground !== 'rgb(255, 255, 255)') fail(page, format, `prints on ${ground}`)
    const pdf = await tab.pdf({ format, preferCSSPageSize: false, ...(shots ? { path: `${shots}/${basename(page, '.html')}-${format}.pdf` } : {}) })
    if (pdf.length < 5000) fail(page, format, `the PDF has ${pdf.length} bytes`)
    await tab.close()
  }
  console.log(`looked at ${basename(page)}`)
}
await browser.close()
console.log(bad ? `${bad} problems` : 'no violation')
process.exit(bad ? 1 : 0)
