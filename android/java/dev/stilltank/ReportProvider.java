package dev.stilltank;

import android.content.ContentProvider;
import android.content.ContentValues;
import android.database.Cursor;
import android.database.MatrixCursor;
import android.net.Uri;
import android.os.ParcelFileDescriptor;
import android.provider.OpenableColumns;
import java.io.File;
import java.io.FileNotFoundException;
import java.io.IOException;

/**
 * Hands written reports to the app that a person shares them with: read only, only files directly in
 * the folder of reports, and only for whom the share sheet grants it.
 */
public final class ReportProvider extends ContentProvider {
    private static final String AUTHORITY = "dev.stilltank.reports";

    /** The address of a report by its file name. */
    static Uri address(String name) {
        return new Uri.Builder().scheme("content").authority(AUTHORITY).appendPath(name).build();
    }

    /** Where the program writes reports: beside its database. */
    private File folder() {
        return new File(getContext().getFilesDir(), "reports");
    }

    private File report(Uri uri) throws FileNotFoundException {
        String name = uri.getLastPathSegment();
        try {
            File folder = folder().getCanonicalFile();
            File file = new File(folder, name == null ? "" : name).getCanonicalFile();
            if (folder.equals(file.getParentFile()) && file.isFile()) {
                return file;
            }
        } catch (IOException unreadable) {
            // Said below: to the asker there is no such report.
        }
        throw new FileNotFoundException(uri.toString());
    }

    @Override
    public boolean onCreate() {
        return true;
    }

    @Override
    public ParcelFileDescriptor openFile(Uri uri, String mode) throws FileNotFoundException {
        if (!"r".equals(mode)) {
            throw new FileNotFoundException(uri + " is read only");
        }
        return ParcelFileDescriptor.open(report(uri), ParcelFileDescriptor.MODE_READ_ONLY);
    }

    @Override
    public Cursor query(Uri uri, String[] columns, String selection, String[] values, String order) {
        String[] asked = columns == null
                ? new String[] {OpenableColumns.DISPLAY_NAME, OpenableColumns.SIZE} : columns;
        MatrixCursor answer = new MatrixCursor(asked, 1);
        try {
            File file = report(uri);
            Object[] row = new Object[asked.length];
            for (int place = 0; place < asked.length; place++) {
                if (OpenableColumns.DISPLAY_NAME.equals(asked[place])) {
                    row[place] = file.getName();
                } else if (OpenableColumns.SIZE.equals(asked[place])) {
                    row[place] = file.length();
                }
            }
            answer.addRow(row);
        } catch (FileNotFoundException none) {
            // No rows: there is no such report.
        }
        return answer;
    }

    @Override
    public String getType(Uri uri) {
        String name = uri.getLastPathSegment();
        String ending = name == null ? "" : name.substring(name.lastIndexOf('.') + 1);
        switch (ending) {
            case "pdf":
                return "application/pdf";
            case "html":
                return "text/html";
            case "csv":
                return "text/csv";
            case "json":
                return "application/json";
            default:
                return "application/octet-stream";
        }
    }

    @Override
    public Uri insert(Uri uri, ContentValues values) {
        throw new UnsupportedOperationException();
    }

    @Override
    public int update(Uri uri, ContentValues values, String selection, String[] arguments) {
        throw new UnsupportedOperationException();
    }

    @Override
    public int delete(Uri uri, String selection, String[] arguments) {
        throw new UnsupportedOperationException();
    }
}
