// SPDX-License-Identifier: GPL-3.0-or-later
// Checks of the pages of two packs, see run. Accessibility: WCAG 2.2 AA, by axe-core's rules for it.
import { execFileSync } from 'node:child_process';
import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { Browser } from './browser.mjs';

const work = process.argv[2];
const axe = process.env.AXE ? readFileSync(process.env.AXE, 'utf8') : null;
let passed = 0, failed = 0;

function check(name, good, detail = '') {
    good ? passed++ : failed++;
    if (!good) console.log(`not ok: ${name}${detail ? `: ${detail}` : ''}`);
}

// Facts of the page as the browser has it.
const structure = `({
    scripts: document.querySelectorAll('script, iframe, object, embed, form, [onload], [onerror], [onclick]').length,
    policy: document.querySelector('meta[http-equiv=Content-Security-Policy]')?.content ?? '',
    lang: document.documentElement.lang, title: document.title.trim().length, h1: document.querySelectorAll('h1').length,
    landmarks: ['header', 'main', 'footer'].every((tag) => document.querySelectorAll('body > ' + tag).length === 1),
    jumps: [...document.querySelectorAll('h1, h2, h3, h4')].map((h) => +h.tagName[1])
        .filter((level, i, all) => i > 0 && level > all[i - 1] + 1).length,
    tables: [...document.querySelectorAll('table')].filter((t) => !t.caption || !t.querySelector('thead th[scope=col]') ||
        [...t.querySelectorAll('tbody tr')].some((r) => !r.querySelector('th[scope=row]'))).length,
    images: document.images.length,
    broken: [...document.images].filter((i) => !i.complete || i.naturalWidth === 0 || !i.hasAttribute('alt')).length,
    mute: [...document.querySelectorAll('figure img')].filter((i) => i.alt.length < 20).length,
    dead: [...document.querySelectorAll('a[href^="#"]')].filter((a) => !document.getElementById(a.hash.slice(1))).length,
    twice: [...document.querySelectorAll('[id]')].length - new Set([...document.querySelectorAll('[id]')].map((e) => e.id)).size,
    hacked: 'hacked' in window, text: document.body.innerText })`;

async function page_of(browser, file, name, pictures = true) {
    const url = pathToFileURL(file).href, page = await browser.open(url, 1440);
    const facts = await page.evaluate(structure);
    check(`${name}: asks for nothing`, page.requests.every((r) => r === url || r.startsWith('data:')), page.requests.find((r) => r !== url && !r.startsWith('data:')));
    check(`${name}: no error`, page.wrong.length === 0, page.wrong.join('; '));
    check(`${name}: no script, and none allowed`, facts.scripts === 0 && facts.policy.startsWith("default-src 'none'") && !facts.policy.includes('script'));
    check(`${name}: nothing ran`, !facts.hacked);
    check(`${name}: language, title, one h1, landmarks`, facts.lang === 'en' && facts.title > 0 && facts.h1 === 1 && facts.landmarks);
    check(`${name}: headings step by step`, facts.jumps === 0);
    check(`${name}: tables have captions and heads`, facts.tables === 0, `${facts.tables} have not`);
    check(`${name}: images are whole and named`, facts.images > 0 === pictures && facts.broken === 0 && facts.mute === 0, `${facts.broken} broken, ${facts.mute} mute of ${facts.images}`);
    check(`${name}: anchors lead somewhere, ids are single`, facts.dead === 0 && facts.twice === 0);
    return { page, facts };
}

// Texts that hold `name`, which begins with a figure and runs from right to left, and those of them where the figure does
// not stand right of its letters, or what comes behind stands left of the name.
const turned = (name) => `((name) => {
    document.querySelectorAll('details').forEach((d) => { d.open = true; });
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), wrong = [];
    const box = (node, from, to) => { const r = document.createRange(); r.setStart(node, from); r.setEnd(node, to); return [...r.getClientRects()]; };
    let n = 0, more = 0;
    for (let node; (node = walker.nextNode());) {
        const at = node.data.indexOf(name), end = at + name.length, behind = at < 0 ? -1 : node.data.slice(end).search(/[A-Za-z0-9:,]/);
        const names = at < 0 ? [] : box(node, at, end);
        if (names.length === 0 || names.some((part) => Math.abs(part.bottom - names[0].bottom) > 6)) continue; // not shown, or on two lines
        const next = behind < 0 ? [] : box(node, end + behind, end + behind + 1).filter((part) => Math.abs(part.bottom - names[0].bottom) <= 6);
        n++;
        more += next.length;
        if (box(node, at, at + 1)[0].left < box(node, end - 1, end)[0].left || next.some((part) => names.some((one) => part.left < one.right - 1)))
            wrong.push(node.data.slice(Math.max(0, at - 20), end + 20));
    }
    return { n, more, wrong };
})(${JSON.stringify(name)})`;

async function accessible(page, name) {
    if (!axe) return;
    await page.evaluate('document.querySelectorAll("details").forEach((d) => { d.open = true; })');
    await page.evaluate(axe);
    const found = await page.evaluate(`axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
        .then((r) => r.violations.map((v) => v.id + ' (' + v.nodes.length + '): ' + v.nodes[0].html.slice(0, 160)))`);
    check(`${name}: axe-core finds nothing`, found.length === 0, found.join(' | '));
}

async function keyboard(page) {
    await page.key('Tab', 9);
    check('keyboard: the first stop leads to the report', (await page.evaluate('document.activeElement.hash')) === '#main');
    let entries = 0;
    for (let i = 0; i < 40; i++) {
        await page.key('Tab', 9);
        if (await page.evaluate('document.activeElement.closest("nav") !== null')) entries++;
        else if (entries) break;
    }
    check('keyboard: each entry of the contents can be reached', entries === (await page.evaluate('document.querySelectorAll("nav a").length')), `${entries}`);
    await page.evaluate('document.querySelector("nav li:nth-child(4) a").focus()');
    await page.key('Enter', 13);
    check('keyboard: an entry leads to its section', (await page.evaluate('location.hash')) === '#waiting');
    check('keyboard: the stop is visible', await page.evaluate(`(() => { const a = document.querySelector('nav a'); a.focus();
        return a.matches(':focus-visible') && getComputedStyle(a).outlineStyle !== 'none'; })()`));
}

// Pages on paper, at each size; alone: the last words of the first page, and the heading that begins the second.
async function print(page, name, least, most, notice, alone = null) {
    for (const paper of ['A4', 'letter']) {
        const file = `${work}/${name}-${paper}.pdf`;
        await page.evaluate(`document.head.insertAdjacentHTML('beforeend', '<style>@page { size: ${paper}; }</style>')`);
        writeFileSync(file, await page.pdf());
        const pages = +/Pages:\s+(\d+)/.exec(execFileSync('pdfinfo', [file], { encoding: 'utf8' }))[1];
        check(`${name}, ${paper}: ${least} to ${most} pages`, pages >= least && pages <= most, `${pages}`);
        const texts = execFileSync('pdftotext', [file, '-'], { encoding: 'utf8' }).split('\f').slice(0, pages);
        check(`${name}, ${paper}: each page says what the data are`, texts.every((t) => t.includes(notice)));
        if (alone) check(`${name}, ${paper}: the first page stands alone`,
            texts[0].includes('In short') && texts[0].replace(/\s+/g, ' ').includes(alone.last) && texts[1].split('\n').slice(0, 12).some((line) => line.trim() === alone.next));
    }
}

// Charts whose title stands in the picture and above it, or nowhere.
const titlesTwice = `[...document.querySelectorAll('figure > .chart')].filter((chart) => {
    const above = getComputedStyle(chart.previousElementSibling).display !== 'none', picture = chart.firstElementChild;
    const cut = chart.getBoundingClientRect().top - picture.getBoundingClientRect().top;
    return chart.previousElementSibling.className !== 'head' || above !== cut > 20;
}).map((chart) => chart.parentElement.id)`;

async function widths(page, name) {
    await page.size(320, 800);
    const wide = await page.evaluate('document.documentElement.scrollWidth');
    check(`${name}: reflows at 320 px`, wide <= 320, `${wide} px`);
    await page.evaluate('document.querySelectorAll("details").forEach((d) => { d.open = false; })');
    for (const width of [1440, 820, 375]) {
        await page.size(width, 1000);
        const wrong = await page.evaluate(titlesTwice);
        check(`${name}: a chart's title stands once at ${width} px`, wrong.length === 0, wrong[0]);
        writeFileSync(`${work}/${name}-${width}.png`, await page.picture());
    }
}

const browser = new Browser(process.env.CHROMIUM ?? 'chromium');
const report = await page_of(browser, `${work}/sample/report.html`, 'report');
check('report: says that the data are invented', /invented data/i.test(report.facts.text));
await keyboard(report.page);
await print(report.page, 'report', 15, 32, 'Invented data', { last: 'within the target', next: 'Demand and flow' });
await accessible(report.page, 'report');
await widths(report.page, 'report');
await report.page.close();

const unit = await page_of(browser, `${work}/sample/units/elm.html`, 'unit');
check('unit: other units are not named', !/Alder|Birch|Cedar|Hazel/.test(unit.facts.text));
await print(unit.page, 'unit', 2, 4, 'Invented data');
await accessible(unit.page, 'unit');
await widths(unit.page, 'unit');
await unit.page.close();
for (const file of readdirSync(`${work}/sample/units`)) {
    const page = await browser.open(pathToFileURL(`${work}/sample/units/${file}`).href, 1440);
    await print(page, `unit ${file}`, 2, 4, 'Invented data');
    await page.close();
}

const many = await page_of(browser, `${work}/many/report.html`, 'many units');
check('many units: a page for each', (await many.page.evaluate('document.querySelectorAll("#units a").length')) === 60);
await print(many.page, 'many', 15, 36, 'Invented data');
await widths(many.page, 'many');
await many.page.close();
const one = await page_of(browser, `${work}/many/units/ald.html`, 'unit of many');
check('unit of many: its charts say that they show a selection', readdirSync(`${work}/many/units`).length === 60 &&
    (await one.page.evaluate(`[...document.images].some((i) => atob(i.src.split(',')[1]).includes('even selection'))`)));
check('unit of many: other units are not named', !/Birch|Cedar|Alder 2/.test(one.facts.text));
await print(one.page, 'unit-of-many', 2, 4, 'Invented data');
await widths(one.page, 'unit-of-many');
await one.page.close();

const release = await page_of(browser, `${work}/release/report.html`, 'release', false);
check('release: says what it is, and that the data are invented', /invented data/i.test(release.facts.text) &&
    release.facts.text.includes('A release: counts of 1 to 9 are hidden'));
check('release: under each table that hides something stands how much, and under no other', await release.page.evaluate(`(() => {
    const wrong = [...document.querySelectorAll('.scroll')].filter((box) => {
        const n = [...box.querySelectorAll('td')].filter((td) => td.innerText === 'hidden').length;
        return n !== +(box.nextElementSibling?.innerText.match(/^Hidden: ([0-9]+) of/)?.[1] ?? 0);
    });
    return wrong.length === 0 && document.querySelectorAll('.scroll + .small').length > 9;
})()`));
await release.page.key('Tab', 9);
await release.page.key('Tab', 9);
await release.page.key('Enter', 13);
check('release: its contents lead to its sections', (await release.page.evaluate('location.hash')) === '#demand');
await print(release.page, 'release', 8, 14, 'Invented data');
await accessible(release.page, 'release');
await widths(release.page, 'release');
await release.page.close();
const manyRelease = await page_of(browser, `${work}/many-release/report.html`, 'release of many units', false);
await print(manyRelease.page, 'many-release', 15, 40, 'Invented data');
await widths(manyRelease.page, 'many-release');
await manyRelease.page.close();
const hostileRelease = await page_of(browser, `${work}/hostile-release/report.html`, 'hostile release', false);
check('hostile release: names stay text', hostileRelease.facts.text.includes(process.env.BAD) && hostileRelease.facts.text.includes(process.env.QUOTED));
const order = await hostileRelease.page.evaluate(turned(process.env.LEFTWARD));
check('hostile release: a name from right to left keeps its own order', order.n > 9 && order.wrong.length === 0, `${order.wrong.length} of ${order.n}: ${order.wrong[0]}`);
check('hostile release: the page is still shown', await hostileRelease.page.evaluate('getComputedStyle(document.body).display !== "none"'));
await hostileRelease.page.close();

const files = ['report.html', ...readdirSync(`${work}/hostile-pack/units`).map((f) => `units/${f}`)];
for (const file of files) {
    const { page, facts } = await page_of(browser, `${work}/hostile-pack/${file}`, `hostile ${file}`);
    if (file === 'report.html') {
        check('hostile: names stay text', facts.text.includes(process.env.BAD) && facts.text.includes(process.env.QUOTED));
        const { n, more, wrong } = await page.evaluate(turned(process.env.LEFTWARD));
        check('hostile: a name from right to left keeps its own order and turns nothing behind it', n > 9 && more > 0 && wrong.length === 0, `${wrong.length} of ${n}, ${more} with text behind: ${wrong[0]}`);
        check('hostile: no character turns text unseen', !/[\u061c\u200e\u200f\u202a-\u202e\u2066\u2067]/.test(facts.text));
        check('hostile: codes with unseen characters are the units that they look like', facts.text.includes('riF') && !facts.text.includes('\u200b'));
        check('hostile: the page is still shown', await page.evaluate('getComputedStyle(document.body).display !== "none"'));
    }
    await page.close();
}
check('hostile: a page for each unit', files.length >= 4, files.join(' '));
await browser.close();
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
