// SPDX-License-Identifier: GPL-3.0-or-later
// Headless Chromium over its own debugging pipe: no library, no port.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export class Browser {
    constructor(program) {
        this.profile = mkdtempSync(join(tmpdir(), 'browser-'));
        const flags = ['--headless=new', '--remote-debugging-pipe', '--disable-gpu', '--hide-scrollbars', '--no-first-run',
            '--disable-background-networking', `--user-data-dir=${this.profile}`];
        if (process.getuid?.() === 0) flags.push('--no-sandbox'); // Chromium's own does not start as root
        this.child = spawn(program, flags, { stdio: ['ignore', 'ignore', 'ignore', 'pipe', 'pipe'] });
        this.next = 1;
        this.waiting = new Map();
        this.listeners = new Set();
        let rest = '';
        this.child.stdio[4].setEncoding('utf8').on('data', (text) => {
            const parts = (rest + text).split('\0');
            rest = parts.pop();
            parts.forEach((part) => this.#take(JSON.parse(part)));
        });
    }

    #take(message) {
        if (!message.id) {
            this.listeners.forEach((listener) => listener(message));
            return;
        }
        const { resolve, reject } = this.waiting.get(message.id);
        this.waiting.delete(message.id);
        message.error ? reject(new Error(message.error.message)) : resolve(message.result);
    }

    send(method, params = {}, sessionId = undefined) {
        const id = this.next++;
        return new Promise((resolve, reject) => {
            this.waiting.set(id, { resolve, reject });
            this.child.stdio[3].write(JSON.stringify({ id, method, params, sessionId }) + '\0');
        });
    }

    // Opens a page at a width; what it asked for and what went wrong is kept.
    async open(url, width, height = 900) {
        const { targetId } = await this.send('Target.createTarget', { url: 'about:blank' });
        const { sessionId } = await this.send('Target.attachToTarget', { targetId, flatten: true });
        const page = new Page(this, targetId, sessionId);
        for (const domain of ['Page', 'Network', 'Runtime', 'Log']) await page.send(`${domain}.enable`);
        await page.size(width, height);
        const loaded = page.once('Page.loadEventFired');
        await page.send('Page.navigate', { url });
        await loaded;
        return page;
    }

    async close() {
        await this.send('Browser.close').catch(() => {});
        await new Promise((resolve) => this.child.on('exit', resolve));
        rmSync(this.profile, { recursive: true, force: true });
    }
}

class Page {
    constructor(browser, targetId, sessionId) {
        Object.assign(this, { browser, targetId, sessionId, requests: [], wrong: [] });
        this.listener = ({ method, params, sessionId: from }) => {
            if (from !== sessionId) return;
            if (method === 'Network.requestWillBeSent') this.requests.push(params.request.url);
            if (method === 'Runtime.exceptionThrown') this.wrong.push(params.exceptionDetails.text);
            if (method === 'Log.entryAdded' && params.entry.level === 'error') this.wrong.push(params.entry.text);
            if (method === 'Page.javascriptDialogOpening') this.wrong.push(`dialog: ${params.message}`);
        };
        browser.listeners.add(this.listener);
    }

    send(method, params) {
        return this.browser.send(method, params, this.sessionId);
    }

    once(event) {
        return new Promise((resolve) => {
            const listener = ({ method, sessionId }) => {
                if (method !== event || sessionId !== this.sessionId) return;
                this.browser.listeners.delete(listener);
                resolve();
            };
            this.browser.listeners.add(listener);
        });
    }

    size(width, height) {
        return this.send('Emulation.setDeviceMetricsOverride', { width, height, deviceScaleFactor: 1, mobile: false });
    }

    async evaluate(expression) {
        const { result, exceptionDetails } =
            await this.send('Runtime.evaluate', { expression, awaitPromise: true, returnByValue: true });
        if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
        return result.value;
    }

    async key(key, code) {
        for (const type of ['keyDown', 'keyUp'])
            await this.send('Input.dispatchKeyEvent', { type, key, code: key, windowsVirtualKeyCode: code, text: key === 'Enter' ? '\r' : undefined });
    }

    async picture() {
        const { cssContentSize: whole } = await this.send('Page.getLayoutMetrics');
        const clip = { x: 0, y: 0, width: whole.width, height: Math.min(whole.height, 15000), scale: 1 };
        const { data } = await this.send('Page.captureScreenshot', { captureBeyondViewport: true, clip });
        return Buffer.from(data, 'base64');
    }

    // On the paper that the page asks for.
    async pdf() {
        const { data } = await this.send('Page.printToPDF', { preferCSSPageSize: true, printBackground: true });
        return Buffer.from(data, 'base64');
    }

    async close() {
        this.browser.listeners.delete(this.listener);
        await this.browser.send('Target.closeTarget', { targetId: this.targetId });
    }
}
