// SPDX-License-Identifier: MIT
// Finds records by tag or words. The data come as scripts (words-1.js and on), as a page that is
// opened from a folder may run scripts beside it but read no other file.
"use strict";
(function () {
  var ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ", CHECK = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  var MOST = 40, WITHIN = 1, WORD_START = 6, WHOLE_WORD = 11, IN_TITLE = 4, IN_A_ROW = 8;
  var root = document.body.dataset.root, parts = Number(document.body.dataset.parts);
  var form = document.getElementById("find"), field = document.getElementById("words");
  var said = document.getElementById("said"), hits = document.getElementById("hits");
  var records = [], byTag = new Map(), loaded = 0, asked = false, broken = false;

  // One part of the data: a record a line; its kind, code, title, more words, page.
  globalThis.wiretrackBinder = { add: function (text) {
    (text ? text.split("\n") : []).forEach(function (line) {
      var f = line.split("\t");
      var record = { what: f[0], code: f[1], title: f[2], page: f[4], name: folded(f[1]).trim(),
        head: folded(f[1] + " " + f[2]), all: folded(f[1] + " " + f[2] + " " + f[3]) };
      if (f[0] === "conductor") {
        record.tag = f[1].replace("-", "");
        byTag.set(record.tag, record);
      }
      records.push(record);
    });
  } };

  // Small letters without accents, a space around each word; what parts words becomes a space.
  function folded(text) {
    var plain = text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
    return " " + plain.replace(/[^\p{L}\p{N}:+\-/.]+/gu, " ").trim() + " ";
  }

  function wordsOf(text) { return folded(text).split(" ").filter(Boolean); }

  // The tag as it is meant: upper case, no spaces or hyphens, O as 0 and I or L as 1 in the first six.
  function normalised(text) {
    var plain = text.replace(/[\s\-\u2010-\u2015]/g, "").toUpperCase();
    return plain.slice(0, 6).replace(/O/g, "0").replace(/[IL]/g, "1") + plain.slice(6);
  }

  function looksLikeTag(plain) {
    return plain.length === 7 && CHECK.includes(plain[6]) &&
      Array.from(plain.slice(0, 6)).every(function (c) { return ALPHABET.includes(c); });
  }

  // ISO/IEC 7064, hybrid system MOD 37,36.
  function checkCharacter(body) {
    var product = 36;
    for (var i = 0; i < body.length; i += 1) {
      product = ((product + CHECK.indexOf(body[i])) % 36 || 36) * 2 % 37;
    }
    return CHECK[(37 - product) % 36];
  }

  function isTag(plain) {
    return looksLikeTag(plain) && checkCharacter(plain.slice(0, 6)) === plain[6];
  }

  // The tags of this site that one slip explains: two neighbours swapped, or one character wrong.
  function slips(plain) {
    var found = new Set(), i;
    for (i = 0; i < 6; i += 1) {
      found.add(plain.slice(0, i) + plain[i + 1] + plain[i] + plain.slice(i + 2));
    }
    for (i = 0; i < 7; i += 1) {
      Array.from(i < 6 ? ALPHABET : CHECK).forEach(function (c) {
        found.add(plain.slice(0, i) + c + plain.slice(i + 1));
      });
    }
    found.delete(plain);
    return Array.from(found).filter(function (tag) { return byTag.has(tag); });
  }

  function written(tag) { return tag.slice(0, 3) + "-" + tag.slice(3); }

  // How well a record answers: 0 is not at all. Every word must occur in it.
  function score(record, words, tagPart) {
    var sum = 0, row = " " + words.join(" ");
    if (record.tag && tagPart && record.tag.startsWith(tagPart)) { return 50; }
    if (record.name === row.trim()) { sum += 100; }
    if (record.head.includes(row)) { sum += IN_A_ROW; }
    for (var i = 0; i < words.length; i += 1) {
      var word = words[i], found = 0;
      if (record.all.includes(" " + word + " ")) { found = WHOLE_WORD; }
      else if (record.all.includes(" " + word)) { found = WORD_START; }
      else if (record.all.includes(word)) { found = WITHIN; }
      if (!found) { return 0; }
      sum += found + (record.head.includes(" " + word) ? IN_TITLE : 0);
    }
    return sum;
  }

  // What was typed or scanned: a label's code says an address, or WT: and the tag.
  function typed() {
    var text = field.value.trim(), last = /^(?:wt:|https?:\/\/\S*\/)([^\/\s]+)\/?$/i.exec(text);
    return last && isTag(normalised(last[1])) ? last[1] : text;
  }

  function search() {
    var text = typed(), plain = normalised(text);
    hits.textContent = "";
    if (!text) { said.textContent = ""; return; }
    if (loaded < parts) {
      said.textContent = broken ? "The search's data can't be read: the folder “look” isn't whole." : "Reading the data …";
      return;
    }
    if (!looksLikeTag(plain) || !tagSaid(plain)) { show(text, plain); }
  }

  // Says what a whole tag is; false where words are meant after all.
  function tagSaid(plain) {
    if (byTag.has(plain)) {
      said.textContent = "Enter opens it.";
      list([byTag.get(plain)]);
      return true;
    }
    var near = isTag(plain) ? [] : slips(plain);
    if (!near.length && anyRecord()) { return false; }
    if (isTag(plain)) {
      said.textContent = "No conductor of this site is tagged " + written(plain) + ".";
      return true;
    }
    said.textContent = "“" + typed() + "” is not a tag: the check character is wrong." + (near.length ? " Did you mean:" : "");
    list(near.map(function (tag) { return byTag.get(tag); }));
    return true;
  }

  function anyRecord() {
    var words = wordsOf(typed());
    return words.length > 0 && records.some(function (record) { return score(record, words, "") > 0; });
  }

  function show(text, plain) {
    var words = wordsOf(text), tagPart = plain.length > 2 && plain.length < 8 ? plain : "", found = [];
    if (!words.length) { said.textContent = "Type a tag, or words."; return; }
    records.forEach(function (record, place) {
      var value = score(record, words, tagPart);
      if (value) { found.push([value, place, record]); }
    });
    found.sort(function (a, b) { return b[0] - a[0] || a[1] - b[1]; });
    var more = found.length > MOST ? "; the best " + MOST + " are shown, add a word" : "";
    said.textContent = found.length ? found.length + (found.length === 1 ? " record" : " records") + more + "." : missing(words);
    list(found.slice(0, MOST).map(function (row) { return row[2]; }));
  }

  function missing(words) {
    var absent = words.filter(function (word) {
      return !records.some(function (record) { return record.all.includes(word); });
    });
    return absent.length ? "Nothing here has “" + absent.join("”, “") + "”." : "No single record has all of these words.";
  }

  function list(found) {
    found.forEach(function (record) {
      var item = document.createElement("li"), link = document.createElement("a"), name = document.createElement("b");
      name.textContent = record.code;
      link.href = root + record.page;
      link.append(name, " " + (record.what === "conductor" ? "" : record.what + " ") + record.title);
      item.append(link);
      hits.append(item);
    });
  }

  // Loads the data when somebody is about to search, one part after the other.
  function load() {
    if (asked) { return; }
    asked = true;
    for (var number = 1; number <= parts; number += 1) {
      var script = document.createElement("script");
      script.async = false;
      script.onload = function () { loaded += 1; if (loaded === parts) { search(); } };
      script.onerror = function () { broken = true; search(); };
      script.src = root + "look/words-" + number + ".js";
      document.head.append(script);
    }
  }

  // Where a hit is on this very page, the page stays; what was searched for is found.
  function left(link) {
    if (link && link.href.split("#")[0] === location.href.split("#")[0]) { field.value = ""; search(); }
  }

  function step(event) {
    var links = Array.from(hits.querySelectorAll("a")), at = links.indexOf(document.activeElement);
    if (event.key === "ArrowDown" && links.length) { event.preventDefault(); links[Math.min(at + 1, links.length - 1)].focus(); }
    if (event.key === "ArrowUp" && at >= 0) { event.preventDefault(); (at ? links[at - 1] : field).focus(); }
    if (event.key === "Escape") { field.value = ""; field.focus(); search(); }
  }

  form.hidden = false;
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var first = hits.querySelector("a");
    if (first) { location.href = first.href; left(first); }
  });
  hits.addEventListener("click", function (event) { left(event.target.closest("a")); });
  form.addEventListener("keydown", step);
  field.addEventListener("focus", load);
  field.addEventListener("input", function () { load(); search(); });
  document.addEventListener("keydown", function (event) {
    if (event.key === "/" && !event.ctrlKey && !event.metaKey && !event.altKey && document.activeElement !== field) { event.preventDefault(); field.focus(); }
  });
  if (field.value) { load(); }
}());
