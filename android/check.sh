#!/usr/bin/env bash
# Checks of the Android app all that can be checked on a Debian 12 with packages alone: types of the
# whole program for a phone's processor, Java, resources, manifest, and a packaging test. What it
# makes is no app: there is no native library and no Java bytecode in it.
#
# Ends with 3 when a package cannot be had, with 1 when something is wrong.
set -euo pipefail
cd "$(dirname "$0")/.."

step() { printf '\n== Android: %s\n' "$*"; }
cannot() {
    printf '\nAndroid was NOT checked: %s\n' "$*" >&2
    exit 3
}
wrong() {
    printf '\nAndroid: %s\n' "$*" >&2
    exit 1
}

target=aarch64-linux-android
min_sdk=26
target_sdk=35
work=$PWD/target/android-check
mkdir --parents "$work"

# A compiler with the standard library's sources in the same version, for a target whose compiled
# standard library is in no package (the system's own programs keep their names and places; rustup's
# stay first for everybody else), headers of a C library for the database's sources, and the tools
# that make packages.
packages=(
    aapt apksigner cargo-web clang-19 libc6-dev-arm64-cross llvm-19 openjdk-17-jdk-headless
    rust-web-src rustc-web zipalign
)

step "Debian packages"
missing=()
for package in "${packages[@]}"; do
    state=$(dpkg-query --show --showformat '${db:Status-Abbrev}' "$package" 2>/dev/null || true)
    [[ $state == ii* ]] || missing+=("$package")
done
if ((${#missing[@]})); then
    as_root=()
    if [[ $(id -u) != 0 ]]; then as_root=(sudo); fi
    "${as_root[@]}" apt-get update || cannot "the lists of packages cannot be read"
    DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install --yes --no-install-recommends \
        "${missing[@]}" || cannot "one of these is not to be had: ${missing[*]}"
fi
compiler=$(/usr/bin/rustc --version | awk '{ print $2 }')
wanted=$(sed --quiet 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
[[ $(printf '%s\n' "$wanted" "$compiler" | sort --version-sort | head --lines=1) == "$wanted" ]] ||
    cannot "the packaged compiler is $compiler, the program needs $wanted"

step "Resources of the system"
# Debian 12's own are too old to know what "never for location" means. The newer release's package
# is fetched and unpacked beside the sources; nothing of that release is installed.
framework=$work/framework/usr/share/android-framework-res/framework-res.apk
if [[ ! -f $framework ]]; then
    fetch=$work/fetch
    rm --recursive --force "$fetch"
    mkdir --parents "$fetch/lists/partial" "$fetch/cache/archives/partial" "$fetch/parts"
    mirror=$(apt-get indextargets --format '$(REPO_URI) $(CODENAME) $(COMPONENT)' \
        'Identifier: Packages' | awk '$2 == "bookworm" && $3 == "main" { print $1; exit }')
    [[ -n $mirror ]] || cannot "no mirror of Debian is set up"
    echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] $mirror trixie main" \
        >"$fetch/sources.list"
    cat >"$fetch/apt.conf" <<CONF
Dir::Etc::sourcelist "$fetch/sources.list";
Dir::Etc::sourceparts "$fetch/parts";
Dir::State::lists "$fetch/lists";
Dir::Cache "$fetch/cache";
Acquire::Languages "none";
Acquire::IndexTargets::deb::DEP-11::DefaultEnabled "false";
APT::Sandbox::User "";
CONF
    export APT_CONFIG=$fetch/apt.conf
    apt-get --quiet update || cannot "the newer release's list of packages cannot be read"
    (cd "$fetch" && apt-get --quiet download android-framework-res) ||
        cannot "the system's resources cannot be had"
    unset APT_CONFIG
    dpkg-deb --extract "$fetch"/android-framework-res_*.deb "$work/framework"
    rm --recursive --force "$fetch"
fi

step "Types of the whole program for $target"
# The toolkit's build script wants a Java compiler and a translator to the phone's bytecode. The
# second is in no package, and nothing here reads what they make: both are stood in for. Its own
# Java, and that of the Bluetooth library, are therefore not compiled here.
mkdir --parents "$work/no-java/bin"
printf '#!/bin/sh\necho "javac 17.0.0"\n' >"$work/no-java/bin/javac"
cat >"$work/no-java/bin/java" <<'JAVA'
#!/bin/sh
while [ $# -gt 0 ]; do
    [ "$1" = --output ] && : >"$2/classes.dex"
    shift
done
JAVA
chmod +x "$work/no-java/bin/javac" "$work/no-java/bin/java"
: >"$work/empty.jar"
(
    export RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1
    export CARGO_TARGET_DIR=$work/types
    # The renderer's bindings are generated for real only where its sources can be fetched; this is
    # its own switch for a build without them.
    export DOCS_RS=1
    export ANDROID_JAR=$work/empty.jar ANDROID_D8_JAR=$work/empty.jar JAVA_HOME=$work/no-java
    export CC_aarch64_linux_android=clang-19 AR_aarch64_linux_android=llvm-ar-19
    export CFLAGS_aarch64_linux_android="--target=$target$min_sdk -nostdlibinc -isystem /usr/aarch64-linux-gnu/include"
    unset RUSTFLAGS CARGO_ENCODED_RUSTFLAGS RUSTC_WRAPPER
    # Build scripts and macros run once here: making them fast would take longer than they do.
    /usr/bin/cargo check --locked -Zbuild-std=std,panic_abort -Zwarnings \
        --config 'build.warnings="deny"' --config profile.dev.opt-level=0 --config profile.dev.debug=false \
        --config 'profile.dev.package."*".opt-level=0' --target "$target" --lib \
        --no-default-features --features ui,bluetooth
) || wrong "the program does not type-check for $target"

step "Resources and manifest"
package=$work/package
rm --recursive --force "$package"
mkdir --parents "$package/classes" "$package/inside/assets"
version=$(sed --quiet 's/^version = "\(.*\)"/\1/p' Cargo.toml | head --lines=1)
aapt2 compile --dir android/res -o "$package/resources.zip"
facts() {
    aapt dump badging "$1" |
        grep --extended-regexp '^ *(package|sdkVersion|targetSdkVersion|uses-|launchable-activity|install-location)' |
        sed --regexp-extended "s/ (versionCode|versionName|platformBuild[A-Za-z]*|compileSdk[A-Za-z]*)='[^']*'//g; s/^ +//"
    # What the summary leaves out: every attribute below its element.
    aapt dump xmltree "$1" AndroidManifest.xml | awk '
        / E: / { print $2 }
        / A: android:(compile|version)/ || / A: platformBuild/ { next }
        / A: / { sub(/^ *A: /, ""); sub(/\(0x[0-9a-f]+\)/, ""); sub(/ \(Raw: .*/, "")
                 sub(/\(type 0x[0-9a-f]+\)/, ""); sub(/@0x7f.*/, "@"); print "    " $0 }'
}
for edition in offline network; do
    android/edition.sh "$edition" >"$package/AndroidManifest.xml"
    aapt2 link -I "$framework" --manifest "$package/AndroidManifest.xml" \
        --min-sdk-version "$min_sdk" --target-sdk-version "$target_sdk" \
        --version-code 1 --version-name "$version" \
        --java "$package/generated" -o "$package/$edition.apk" "$package/resources.zip"
    facts "$package/$edition.apk" >"$package/$edition.txt"
done
diff --unified android/manifest_facts.txt "$package/offline.txt" ||
    wrong "the linked manifest says something else than android/manifest_facts.txt"
added=$(diff "$package/offline.txt" "$package/network.txt" | grep --count '^[<>]' || true)
[[ $added == 3 ]] && grep --quiet "name='android.permission.INTERNET'" "$package/network.txt" ||
    wrong "the edition with a network must differ by the one permission"

step "Java"
mapfile -t sources < <(find android/java "$package/generated" -name '*.java' | sort)
mapfile -t stubs < <(find android/stubs -name '*.java' | sort)
mkdir --parents "$package/stubs"
javac --release 11 -encoding UTF-8 -nowarn -d "$package/stubs" "${stubs[@]}"
javac --release 11 -encoding UTF-8 -Xlint:all -Werror -classpath "$package/stubs" \
    -d "$package/classes" "${sources[@]}" || wrong "the app's Java does not compile"
# The native side calls Java by name and signature, which no compiler holds against each other.
calls=$(cat src/platform/android/*.rs | tr '\n' ' ' |
    grep --only-matching --perl-regexp 'call!\(\s*env,\s*\w+,\s*"\K\w+",\s*"[^"]+' |
    sed --regexp-extended 's/",\s*"/ /' | sort)
offered=$(javap -s -public -classpath "$package/classes:$package/stubs" \
    dev.stilltank.MainActivity dev.stilltank.ClassicSocket |
    awk '/\(.*\).*;$/ && !/descriptor:/ { split($0, part, "("); count = split(part[1], word, " "); name = word[count] }
         /descriptor:/ { print name, $2 }' | sort --unique)
written=$(cat src/platform/android/*.rs | grep --only-matching --fixed-strings 'call!(' | wc --lines)
[[ $(wc --lines <<<"$calls") == "$written" ]] ||
    wrong "some calls into Java are written so that this check cannot read them"
strangers=$(comm -23 <(uniq <<<"$calls") <(echo "$offered"))
[[ -n $calls && -z $strangers ]] || wrong "Java has no such method: $strangers"
echo "$(wc --lines <<<"$calls") calls into Java, each with its method"

step "Packaging test"
cat >"$package/inside/assets/this-is-a-packaging-test.txt" <<'NOTE'
This package holds the app's manifest and resources and nothing that runs: no native library, no
bytecode. It shows that they link, align and can be signed. android/build.sh makes the app.
NOTE
trial=$work/stilltank-packaging-test.apk
cp "$package/offline.apk" "$package/unaligned.apk"
(cd "$package/inside" && aapt add "$package/unaligned.apk" assets/this-is-a-packaging-test.txt >/dev/null)
zipalign -f -p 4 "$package/unaligned.apk" "$trial"
zipalign -c -p 4 "$trial" || wrong "the packaging test is not aligned"
rm --force "$package/throw-away.jks"
keytool -genkeypair -keystore "$package/throw-away.jks" -alias trial -storepass trial-only \
    -keyalg RSA -keysize 2048 -validity 1 -dname CN=trial >/dev/null 2>&1
apksigner sign --ks "$package/throw-away.jks" --ks-pass pass:trial-only \
    --min-sdk-version "$min_sdk" "$trial"
rm --force "$package/throw-away.jks"
apksigner verify --verbose --min-sdk-version "$min_sdk" "$trial" |
    grep --quiet 'Verified using v2 scheme (APK Signature Scheme v2): true' ||
    wrong "the packaging test's signature does not hold"
zipalign -c -p 4 "$trial" || wrong "signing has moved the packaging test's parts"

step "Done: types, Java, resources and manifest hold; target/android-check/$(basename "$trial") is a packaging test, not an app"
