(function () {
  "use strict";
  var said = document.getElementById("said");
  var win = document.getElementById("window");

  function button(text, label, act) {
    var b = document.createElement("button");
    b.type = "button";
    b.textContent = text;
    if (label) b.setAttribute("aria-label", label);
    b.addEventListener("click", act);
    return b;
  }

  function show(title, node, small) {
    document.getElementById("window-title").textContent = title;
    document.getElementById("window-body").replaceChildren(node);
    win.classList.toggle("small", small);
    win.showModal();
  }

  // Enlarge charts.
  document.querySelectorAll("figure").forEach(function (figure) {
    var img = figure.querySelector("img");
    var title = figure.querySelector("figcaption").firstChild.textContent.trim();
    var b = button("", "Enlarge: " + title, function () {
      var big = img.cloneNode();
      big.removeAttribute("width");
      big.removeAttribute("height");
      show(title, big, false);
    });
    b.className = "enlarge";
    // The button is an addition: the picture keeps its own place and its words.
    img.replaceWith(b);
    b.appendChild(img);
    b.setAttribute("aria-label", "Enlarge: " + title + ". " + img.alt);
  });

  // A definition opens where the reader is.
  document.querySelectorAll("a.def").forEach(function (link) {
    link.addEventListener("click", function (event) {
      var card = document.querySelector(link.getAttribute("href"));
      if (!card || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      var copy = card.cloneNode(true);
      copy.removeAttribute("id");
      var head = copy.querySelector("h4");
      var title = head.textContent;
      head.remove();
      show(title, copy, true);
    });
  });

  // A link into a closed part opens it.
  function reveal() {
    var target = location.hash && document.getElementById(location.hash.slice(1));
    var box = target && target.closest("details");
    if (box && !box.open) {
      box.open = true;
      target.scrollIntoView();
    }
  }
  window.addEventListener("hashchange", reveal);
  reveal();

  function rowsOf(table) {
    return Array.from(table.tBodies).flatMap(function (body) {
      return Array.from(body.rows).filter(function (row) {
        return !row.classList.contains("group");
      });
    });
  }

  // The words of a cell, without the controls and reason numbers that are not part of it.
  function cellText(cell) {
    var bare = cell.cloneNode(true);
    bare.querySelectorAll(".sort, .unseen, sup").forEach(function (extra) {
      extra.remove();
    });
    return bare.textContent.replace(/\s+/g, " ").trim();
  }

  function compare(a, b, up) {
    var x = a.dataset.order, y = b.dataset.order;
    if (x !== undefined && y !== undefined) return up * (Number(x) - Number(y));
    if (x !== undefined) return -1;
    if (y !== undefined) return 1;
    return up * cellText(a).localeCompare(cellText(b), "en", { numeric: true });
  }

  function sort(table, th, column) {
    var up = th.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    table.querySelectorAll("thead th").forEach(function (other) {
      other.removeAttribute("aria-sort");
    });
    th.setAttribute("aria-sort", up > 0 ? "ascending" : "descending");
    Array.from(table.tBodies).forEach(function (body) {
      var rows = Array.from(body.rows).filter(function (row) {
        return !row.classList.contains("group");
      });
      rows.sort(function (a, b) {
        return compare(a.cells[column], b.cells[column], up);
      });
      body.append.apply(body, rows);
    });
    said.textContent = "Sorted, " + th.getAttribute("aria-sort") + (table.tBodies.length > 1 ? ", within each mixing method." : ".");
  }

  function copy(table) {
    copyLines(Array.from(table.rows).filter(function (row) {
      return !row.hidden && row.offsetParent !== null;
    }).map(function (row) {
      return Array.from(row.cells).map(cellText).join("\t");
    }));
  }

  function copyLines(lines) {
    if (!navigator.clipboard) {
      said.textContent = "This browser does not allow copying here.";
      return;
    }
    navigator.clipboard.writeText(lines.join("\n")).then(function () {
      said.textContent = "Copied " + lines.length + " lines.";
    }, function () {
      said.textContent = "The browser did not allow copying.";
    });
  }

  function filter(table, text) {
    var wanted = text.trim().toLowerCase();
    var shown = 0;
    Array.from(table.tBodies).forEach(function (body) {
      var group = body.querySelector("tr.group");
      var own = 0;
      Array.from(body.rows).forEach(function (row) {
        if (row === group) return;
        var words = (group ? group.textContent : "") + " " + row.textContent;
        row.hidden = wanted !== "" && !words.toLowerCase().includes(wanted);
        if (!row.hidden) own += 1;
      });
      if (group) group.hidden = own === 0;
      shown += own;
    });
    said.textContent = shown + " rows shown.";
  }

  document.querySelectorAll("pre.copied").forEach(function (list) {
    var name = document.getElementById(list.getAttribute("aria-labelledby")).textContent;
    var tools = document.createElement("div");
    tools.className = "tools";
    tools.appendChild(button("Copy", "Copy " + name, function () {
      copyLines(list.textContent.split("\n"));
    }));
    list.before(tools);
  });

  document.querySelectorAll("table.sortable").forEach(function (table) {
    Array.from(table.tHead.rows[0].cells).forEach(function (th, column) {
      var name = cellText(th);
      var b = button("↕", "Sort by " + name, function () {
        sort(table, th, column);
      });
      b.className = "sort";
      // Beside the symbol, so that the unit and the full name keep their lines.
      if (th.firstElementChild) th.firstElementChild.after(" ", b);
      else th.append(" ", b);
    });
    var tools = document.createElement("div");
    tools.className = "tools";
    if (rowsOf(table).length > 5) {
      var label = document.createElement("label");
      label.textContent = "Show rows with ";
      var input = document.createElement("input");
      input.type = "search";
      input.addEventListener("input", function () {
        filter(table, input.value);
      });
      label.appendChild(input);
      tools.appendChild(label);
    }
    tools.appendChild(button("Copy table", "", function () {
      copy(table);
    }));
    table.parentNode.before(tools);
  });
})();
