package android.net;

import android.os.Parcelable;

public abstract class Uri implements Parcelable {
    public static Uri fromParts(String scheme, String ssp, String fragment) {
        return null;
    }

    public abstract String getLastPathSegment();

    public static final class Builder {
        public Builder scheme(String scheme) {
            return this;
        }

        public Builder authority(String authority) {
            return this;
        }

        public Builder appendPath(String newSegment) {
            return this;
        }

        public Uri build() {
            return null;
        }
    }
}
