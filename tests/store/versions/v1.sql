PRAGMA foreign_keys=OFF;
PRAGMA application_id=1162560817;
PRAGMA user_version=1;
BEGIN TRANSACTION;
CREATE TABLE documents (
                kind TEXT NOT NULL,
                key TEXT NOT NULL,
                subject TEXT,
                content TEXT NOT NULL,
                sha256 TEXT NOT NULL,
                at TEXT NOT NULL,
                PRIMARY KEY (kind, key)
            ) WITHOUT ROWID;
INSERT INTO "documents" VALUES('lay','k1','g1','{"at":[[0.0,1.5]],"format":"x-1"}','12d39eb79ddf345d47a6b696b6f5bc4e6b5b91898e67180a7afedc3e1b51e2ca','2026-03-02');
INSERT INTO "documents" VALUES('ticks','k2',NULL,'[true,false]','153c9dbcc7025ecd7e50ce6d83f1995233dfc636bc869098e3a8d84288fd938a','');
CREATE TABLE logs (
                id TEXT PRIMARY KEY,
                about TEXT NOT NULL,
                head TEXT,
                tip TEXT,
                revision INTEGER NOT NULL DEFAULT 0,
                FOREIGN KEY (id, head) REFERENCES records (log_id, id) DEFERRABLE INITIALLY DEFERRED,
                FOREIGN KEY (id, tip) REFERENCES records (log_id, id) DEFERRABLE INITIALLY DEFERRED
            );
INSERT INTO "logs" VALUES('workroom','workroom',NULL,NULL,0);
INSERT INTO "logs" VALUES('g1','garment','c','d',6);
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE photos (
                sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
                name TEXT NOT NULL,
                media_type TEXT NOT NULL,
                bytes INTEGER NOT NULL,
                width_px INTEGER,
                height_px INTEGER,
                meta TEXT NOT NULL,
                at TEXT NOT NULL
            ) WITHOUT ROWID;
INSERT INTO "photos" VALUES('a12dcb98bc61c558e25984fd125903ef1055f7a7249a95ebf07a2973d157a95f','../../front.jpg','image/jpeg',18,4000,3000,'{"turned_deg":90}','2026-03-01');
INSERT INTO "photos" VALUES('e96760a87768717bcebcfd25ddc7d46b4dbc95a4b0014def080c08539f7d90d0','cloth.png','image/png',10240,NULL,NULL,'null','');
CREATE TABLE records (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                log_id TEXT NOT NULL REFERENCES logs (id),
                id TEXT NOT NULL,
                parent TEXT,
                kind TEXT NOT NULL,
                version INTEGER NOT NULL CHECK (version >= 1),
                params TEXT NOT NULL,
                note TEXT NOT NULL,
                at TEXT NOT NULL,
                app_version TEXT NOT NULL,
                UNIQUE (log_id, id),
                FOREIGN KEY (log_id, parent) REFERENCES records (log_id, id)
            );
INSERT INTO "records" VALUES(1,'g1','a',NULL,'stick.add',1,'{"length_mm":100.5}','a note','2026-03-01T10:00:00Z','0.1.0');
INSERT INTO "records" VALUES(2,'g1','b','a','stick.add',1,'{"text":"\u00e4rmel \u2702 \u201cx\u201d"}','a note','2026-03-01T10:00:00Z','0.1.0');
INSERT INTO "records" VALUES(3,'g1','c','a','stick.add',1,'{"nested":{"list":[1,2.0,null,true]}}','a note','2026-03-01T10:00:00Z','0.1.0');
INSERT INTO "records" VALUES(4,'g1','d','c','stick.add',1,'{}','a note','2026-03-01T10:00:00Z','0.1.0');
CREATE TABLE settings (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "settings" VALUES('paper','{"edges_mm":5.0,"size":"A4"}');
INSERT INTO "settings" VALUES('unit','"cm"');
CREATE TRIGGER records_stay BEFORE DELETE ON records
                BEGIN SELECT RAISE(ABORT, 'a record of a history is never removed'); END;
CREATE TRIGGER records_are_not_edited BEFORE UPDATE ON records
                BEGIN SELECT RAISE(ABORT, 'a record of a history is never edited'); END;
CREATE INDEX documents_by_subject ON documents (subject, kind);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('records',4);
COMMIT;
