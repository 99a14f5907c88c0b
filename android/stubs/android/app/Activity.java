package android.app;

import android.content.Context;
import android.content.Intent;
import android.view.Window;

public class Activity extends Context {
    public static final int RESULT_OK = -1;

    public final void requestPermissions(String[] permissions, int requestCode) {}

    public void onRequestPermissionsResult(int requestCode, String[] permissions, int[] grantResults) {}

    public boolean shouldShowRequestPermissionRationale(String permission) {
        return false;
    }

    public final void runOnUiThread(Runnable action) {}

    public Window getWindow() {
        return null;
    }

    public void startActivity(Intent intent) {}
}
