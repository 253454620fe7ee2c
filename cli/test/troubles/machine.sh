# A scripted machine: its settings are a file, and its troubles are staged by the tune in force and by how often it has worked under it.
# What it can't do to itself (reset, stand still, lose power) it asks for by a file, and then does nothing more.
V=$(cat in-force 2>/dev/null || echo 0)
case "$1" in
set)
  case "$2" in
    104) echo 0 > in-force; echo failed > training; exit 0;;
    105) echo "no such lever" >&2; exit 3;;
    106) [ -e went-down-at-106 ] || { : > went-down-at-106; echo reset > wish.draft; mv wish.draft wish; exec sleep 600; };;
  esac
  echo "$2" > in-force; echo full > training;;
show) echo "$V";;
run)
  COUNT=$(( $(cat "count-$V" 2>/dev/null || echo 0) + 1 )); echo "$COUNT" > "count-$V"
  echo "$V" >> ran-under
  case "$V-$COUNT" in
    101-2) exec sleep 600;;
    107-2) kill -SEGV $$;;
    108-2) echo "cell 17 differs" >&2; exit 9;;
    109-2) echo "done, no figure"; exit 0;;
    120-2) head -c 8000000 /dev/zero | tr '\0' x; echo; exit 7;;
    121-2) sleep 600 > /dev/null 2>&1 & echo $! > left-behind;;
    110-2|111-2|122-2|123-2) echo "$V" > wish.draft; mv wish.draft wish; while [ ! -e go-on ]; do sleep 0.01; done; rm go-on;;
    102-2|103-2|112-2|113-2|114-2|115-2|116-2|117-2|118-1|118-2|119-2) echo "$V" > wish.draft; mv wish.draft wish; exec sleep 600;;
  esac
  echo "score: $V";;
esac
