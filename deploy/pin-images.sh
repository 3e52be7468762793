#!/bin/sh
# Writes behind each foreign image's tag the digest it stands for, in docker-compose.yml and deploy/Dockerfile, so that what was looked at is
# what runs. Run it where the image registries are reached, look at the change, commit it. Run again, it takes the digests of that day.
set -eu
cd "$(dirname "$0")/.."
foreign() {
  sed -nE 's/^ *image: ([^$@ ]+:[^$@ ]+)(@.*)?$/\1/p' docker-compose.yml
  sed -nE 's/^FROM ([^@ ]+:[^@ ]+)(@[^ ]+)?( .*)?$/\1/p' deploy/Dockerfile
}
for image in $(foreign | sort -u); do
  digest=$(docker buildx imagetools inspect --format '{{.Manifest.Digest}}' "$image")
  echo "$digest" | grep -Eqx 'sha256:[0-9a-f]{64}' || { echo "No digest for $image: '$digest'" >&2; exit 1; }
  for file in docker-compose.yml deploy/Dockerfile; do
    sed -E "s#^( *image: |FROM )$image(@sha256:[0-9a-f]{64})?( |\$)#\\1$image@$digest\\3#" "$file" > "$file.new"
    cat "$file.new" > "$file" && rm "$file.new"
  done
  echo "$image@$digest"
done
