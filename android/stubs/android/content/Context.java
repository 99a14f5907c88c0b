package android.content;

import android.content.pm.PackageManager;
import android.content.res.Resources;
import java.io.File;

public abstract class Context {
    public static final String BLUETOOTH_SERVICE = "bluetooth";
    public static final String VIBRATOR_SERVICE = "vibrator";

    public int checkSelfPermission(String permission) {
        return PackageManager.PERMISSION_DENIED;
    }

    public Object getSystemService(String name) {
        return null;
    }

    public String getPackageName() {
        return null;
    }

    public final String getString(int resId) {
        return null;
    }

    public Resources getResources() {
        return null;
    }

    public File getFilesDir() {
        return null;
    }
}
