package android.content;

import android.net.Uri;
import android.os.Parcelable;

public class Intent implements Parcelable {
    public static final String ACTION_SEND = "android.intent.action.SEND";
    public static final String EXTRA_STREAM = "android.intent.extra.STREAM";
    public static final int FLAG_GRANT_READ_URI_PERMISSION = 1;

    public Intent(String action) {}

    public Intent(String action, Uri uri) {}

    public static Intent createChooser(Intent target, CharSequence title) {
        return null;
    }

    public Intent setType(String type) {
        return this;
    }

    public Intent putExtra(String name, Parcelable value) {
        return this;
    }

    public void setClipData(ClipData clip) {}

    public Intent addFlags(int flags) {
        return this;
    }
}
