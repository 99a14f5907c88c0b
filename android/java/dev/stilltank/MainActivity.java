package dev.stilltank;

import android.app.NativeActivity;
import android.bluetooth.BluetoothAdapter;
import android.bluetooth.BluetoothDevice;
import android.bluetooth.BluetoothManager;
import android.content.ClipData;
import android.content.Context;
import android.content.Intent;
import android.content.pm.PackageManager;
import android.net.Uri;
import android.os.Build;
import android.os.VibrationEffect;
import android.os.Vibrator;
import android.provider.Settings;
import android.view.WindowManager;
import java.io.IOException;
import java.util.Set;

/**
 * The window of the program, which itself is native. What stands here is what only Java can do;
 * every method that the program calls may be called from any of its threads.
 */
public final class MainActivity extends NativeActivity {
    /** The one question that is ever asked; its number only has to be our own. */
    private static final int PERMISSIONS = 1;

    /** How long a done step is felt, in milliseconds: twice, apart from any message's one buzz. */
    private static final long[] DONE = {0, 70, 90, 140};

    /** A lost link: once and long. */
    private static final long[] LOST = {0, 400};

    /** How often the person has answered a question for permissions. */
    private volatile int answers;

    /** Whether the person has granted this permission, or the manifest has it granted. */
    public boolean holds(String permission) {
        return checkSelfPermission(permission) == PackageManager.PERMISSION_GRANTED;
    }

    /** Whether the person refused it once, so that asking again still shows a dialog. */
    public boolean wouldAskAgain(String permission) {
        return shouldShowRequestPermissionRationale(permission);
    }

    /** Asks for these permissions, one a line, on the thread that may. */
    public void ask(String permissions) {
        final String[] wanted = permissions.split("\n");
        runOnUiThread(() -> requestPermissions(wanted, PERMISSIONS));
    }

    /** How many questions were answered so far. */
    public int answers() {
        return answers;
    }

    @Override
    public void onRequestPermissionsResult(int question, String[] permissions, int[] results) {
        super.onRequestPermissionsResult(question, permissions, results);
        if (question == PERMISSIONS) {
            answers += 1;
        }
    }

    /** Opens this app's page in the system's settings, where a refusal can be taken back. */
    public void openSettings() {
        Uri self = Uri.fromParts("package", getPackageName(), null);
        Intent page = new Intent(Settings.ACTION_APPLICATION_DETAILS_SETTINGS, self);
        runOnUiThread(() -> startActivity(page));
    }

    /** Offers a report of this name to the apps that take its kind. */
    public void share(String name, String kind) {
        Uri report = ReportProvider.address(name);
        Intent send = new Intent(Intent.ACTION_SEND);
        send.setType(kind);
        send.putExtra(Intent.EXTRA_STREAM, report);
        // The grant follows the clip, also through the sheet.
        send.setClipData(ClipData.newRawUri(name, report));
        send.addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION);
        runOnUiThread(() -> startActivity(
                Intent.createChooser(send, getString(R.string.share_report))));
    }

    /** Keeps the screen on, or lets it go dark again. */
    public void stayAwake(boolean awake) {
        runOnUiThread(() -> {
            if (awake) {
                getWindow().addFlags(WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON);
            } else {
                getWindow().clearFlags(WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON);
            }
        });
    }

    /** Whether this device can be felt at all. */
    public boolean canVibrate() {
        Vibrator vibrator = (Vibrator) getSystemService(Context.VIBRATOR_SERVICE);
        return vibrator != null && vibrator.hasVibrator();
    }

    /** Lets a done step be felt, or a lost link. */
    public void vibrate(boolean done) {
        Vibrator vibrator = (Vibrator) getSystemService(Context.VIBRATOR_SERVICE);
        if (vibrator != null) {
            vibrator.vibrate(VibrationEffect.createWaveform(done ? DONE : LOST, -1));
        }
    }

    /** How much larger than usual the person wants words. */
    public float textScale() {
        return getResources().getConfiguration().fontScale;
    }

    /** The release of the system, as its interface level. */
    public int systemLevel() {
        return Build.VERSION.SDK_INT;
    }

    /** Paired devices, one a line: address, tab, name. Empty without a radio or with it off. */
    public String pairedDevices() {
        BluetoothAdapter radio = radio();
        StringBuilder lines = new StringBuilder();
        Set<BluetoothDevice> paired = radio == null ? null : radio.getBondedDevices();
        if (paired != null) {
            for (BluetoothDevice device : paired) {
                if (device.getType() == BluetoothDevice.DEVICE_TYPE_LE) {
                    continue;
                }
                String name = device.getName();
                String shown = name == null ? device.getAddress() : name.replace('\n', ' ');
                lines.append(device.getAddress()).append('\t').append(shown).append('\n');
            }
        }
        return lines.toString();
    }

    /**
     * A socket to the serial port of a device, not connected yet.
     *
     * @throws IOException naming the reason in one word that the program knows
     */
    public ClassicSocket classicSocket(String address, boolean secure) throws IOException {
        return ClassicSocket.make(radio(), address, secure);
    }

    private BluetoothAdapter radio() {
        BluetoothManager bluetooth = (BluetoothManager) getSystemService(Context.BLUETOOTH_SERVICE);
        return bluetooth == null ? null : bluetooth.getAdapter();
    }
}
