#!/usr/bin/env bash
# Builds the real package. What it needs beyond the Rust toolchain stands in README.md; none of it
# is had from Debian, so this script has not been run by the project's own checks.
#
#   android/build.sh [offline|network]
set -euo pipefail
cd "$(dirname "$0")/.."

edition=${1:-offline}
: "${ANDROID_HOME:?the folder of the Android SDK}"
: "${ANDROID_NDK:?the folder of the NDK, r27 or newer}"
newest() { find "$1" -mindepth 1 -maxdepth 1 -type d | sort --version-sort | tail --lines=1; }
tools=${ANDROID_BUILD_TOOLS:-$(newest "$ANDROID_HOME/build-tools")}
export ANDROID_JAR=${ANDROID_JAR:-$(newest "$ANDROID_HOME/platforms")/android.jar}
export ANDROID_D8_JAR=${ANDROID_D8_JAR:-$tools/lib/d8.jar}
target=aarch64-linux-android
min_sdk=26
target_sdk=35
out=target/android
version=$(sed --quiet 's/^version = "\(.*\)"/\1/p' Cargo.toml | head --lines=1)
version_code=${VERSION_CODE:-$(awk -F. '{ print $1 * 10000 + $2 * 100 + $3 }' <<<"$version")}
rm --recursive --force "$out"
mkdir --parents "$out/classes" "$out/dex" "$out/inside/lib/arm64-v8a"

echo "== Native library"
clang=$ANDROID_NDK/toolchains/llvm/prebuilt/$(uname -s | tr '[:upper:]' '[:lower:]')-x86_64/bin
export CC_aarch64_linux_android=$clang/$target$min_sdk-clang
export CXX_aarch64_linux_android=$clang/$target$min_sdk-clang++
export AR_aarch64_linux_android=$clang/llvm-ar
export CARGO_TARGET_AARCH64_LINUX_ANDROID_LINKER=$CC_aarch64_linux_android
# Devices with pages of 16 KiB refuse libraries that are aligned to less.
export CARGO_TARGET_AARCH64_LINUX_ANDROID_RUSTFLAGS="-C link-arg=-Wl,-z,max-page-size=16384"
# The library becomes a shared one here only: saying so in Cargo.toml would slow every other build.
cargo rustc --lib --crate-type cdylib --profile android --target "$target" \
    --no-default-features --features ui,bluetooth
cp "target/$target/android/libstilltank.so" "$out/inside/lib/arm64-v8a/"

echo "== Resources and manifest"
android/edition.sh "$edition" >"$out/AndroidManifest.xml"
"$tools/aapt2" compile --dir android/res -o "$out/resources.zip"
"$tools/aapt2" link -I "$ANDROID_JAR" --manifest "$out/AndroidManifest.xml" \
    --min-sdk-version "$min_sdk" --target-sdk-version "$target_sdk" \
    --version-code "$version_code" --version-name "$version" \
    --java "$out/generated" -o "$out/linked.apk" "$out/resources.zip"

echo "== Java"
# The Bluetooth library brings its Java along, inside its package.
bluetooth=$(cargo metadata --format-version 1 --filter-platform "$target" |
    grep --only-matching '"manifest_path":"[^"]*/btleplug-[^"]*/Cargo.toml"' |
    sed 's|"manifest_path":"\(.*\)/Cargo.toml"|\1|' | head --lines=1)
mapfile -t sources < <(find android/java "$out/generated" \
    "$bluetooth/src/droidplug/java/src/main/java" -name '*.java')
javac --release 11 -encoding UTF-8 -classpath "$ANDROID_JAR" -d "$out/classes" "${sources[@]}"
mapfile -t classes < <(find "$out/classes" -name '*.class')
if [[ -n ${SHRINK:-} ]]; then
    java -cp "$ANDROID_D8_JAR" com.android.tools.r8.R8 --release --min-api "$min_sdk" \
        --lib "$ANDROID_JAR" --pg-conf android/keep.pro --output "$out/dex" "${classes[@]}"
else
    java -cp "$ANDROID_D8_JAR" com.android.tools.r8.D8 --release --min-api "$min_sdk" \
        --lib "$ANDROID_JAR" --output "$out/dex" "${classes[@]}"
fi

echo "== Package"
cp "$out/dex/classes.dex" "$out/inside/"
cp "$out/linked.apk" "$out/unaligned.apk"
# The library is stored, not packed: the system maps it from the package.
(cd "$out/inside" && zip --quiet --recurse-paths -0 ../unaligned.apk lib && zip --quiet ../unaligned.apk classes.dex)
package=$out/stilltank-$version-$edition.apk
"$tools/zipalign" -f -P 16 4 "$out/unaligned.apk" "$package"
if [[ -n ${KEYSTORE:-} ]]; then
    : "${KEYSTORE_PASSWORD_FILE:?a file with the password of the key store}"
    key=(--ks "$KEYSTORE" --ks-pass "file:$KEYSTORE_PASSWORD_FILE")
else
    echo "KEYSTORE is not set: signed with a throw-away key, for trying out only"
    keytool -genkeypair -keystore "$out/throw-away.jks" -alias trial -storepass trial-only \
        -keyalg RSA -keysize 2048 -validity 30 -dname CN=trial >/dev/null 2>&1
    key=(--ks "$out/throw-away.jks" --ks-pass pass:trial-only)
fi
"$tools/apksigner" sign "${key[@]}" "$package"
"$tools/apksigner" verify --verbose "$package"
ls -l "$package"
