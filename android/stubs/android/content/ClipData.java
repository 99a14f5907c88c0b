package android.content;

import android.net.Uri;
import android.os.Parcelable;

public class ClipData implements Parcelable {
    public static ClipData newRawUri(CharSequence label, Uri uri) {
        return null;
    }
}
