import com.google.gson.Gson;
import com.google.gson.GsonBuilder;
import com.google.gson.JsonElement;
import com.google.gson.JsonObject;
import com.google.gson.JsonParser;
import java.io.IOException;
import java.io.Reader;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.concurrent.Callable;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import mobile.Engine;
import mobile.Mobile;

/**
 * Asks the bound engine every conformance pair and writes what it answers, one
 * line a pair, for the Go test that judges them: Conform ANSWERS PAIRS...
 * Then looks at what a phone needs besides: threads, errors, time.
 */
public final class Conform {
    private static final Gson gson = new GsonBuilder().serializeNulls().disableHtmlEscaping().create();

    public static void main(String[] args) throws Exception {
        long start = System.nanoTime();
        Engine engine = new Engine();
        byte[] first = engine.ask("GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig", null);
        double ready = (System.nanoTime() - start) / 1e6;
        JsonObject provenance = parse(first).getAsJsonObject("provenance");
        check(provenance.get("engine_revision").getAsString().equals(Mobile.engineRevision())
                && provenance.get("data_revision").getAsString().equals(Mobile.dataRevision()), "the revisions differ");

        List<JsonObject> pairs = new ArrayList<>();
        for (String file : Arrays.copyOfRange(args, 1, args.length)) {
            try (Reader in = Files.newBufferedReader(Path.of(file))) {
                JsonParser.parseReader(in).getAsJsonArray().forEach(pair -> pairs.add(pair.getAsJsonObject()));
            }
        }
        List<String> lines = new ArrayList<>();
        for (JsonObject pair : pairs) {
            lines.add(answer(engine, pair));
        }
        Files.write(Path.of(args[0]), lines);

        // Four threads at once are answered as one is.
        ExecutorService threads = Executors.newFixedThreadPool(4);
        List<Future<String>> again = new ArrayList<>();
        for (JsonObject pair : pairs) {
            again.add(threads.submit((Callable<String>) () -> answer(engine, pair)));
        }
        for (int i = 0; i < lines.size(); i++) {
            check(again.get(i).get().equals(lines.get(i)), "another answer on another thread: " + lines.get(i));
        }
        threads.shutdown();

        JsonObject diagnosis = named(pairs, "museum-second-visit");
        System.out.printf("JVM %s: start and first answer %.0f ms, saturation %.0f us, diagnosis %.0f us a call%n",
                System.getProperty("java.version"), ready,
                time(engine, 2000, "GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig", null),
                time(engine, 500, "POST", diagnosis.get("path").getAsString(), question(diagnosis)));
    }

    /** What the engine answers, or the problem that its exception carries. */
    private static String answer(Engine engine, JsonObject pair) {
        JsonObject line = new JsonObject();
        line.add("name", pair.get("name"));
        JsonObject answer;
        int status = 200;
        try {
            answer = parse(engine.ask(pair.get("method").getAsString(), pair.get("path").getAsString(), question(pair)));
        } catch (Exception refused) {
            answer = JsonParser.parseString(refused.getMessage()).getAsJsonObject();
            status = answer.get("status").getAsInt();
        }
        line.addProperty("status", status);
        line.add("answer", answer);
        return gson.toJson(line);
    }

    private static byte[] question(JsonObject pair) {
        JsonElement question = pair.get("question");
        return question == null ? null : question.toString().getBytes(StandardCharsets.UTF_8);
    }

    private static JsonObject parse(byte[] answer) {
        return JsonParser.parseString(new String(answer, StandardCharsets.UTF_8)).getAsJsonObject();
    }

    private static JsonObject named(List<JsonObject> pairs, String name) {
        return pairs.stream().filter(pair -> pair.get("name").getAsString().equals(name)).findFirst().orElseThrow();
    }

    /** Microseconds a call. */
    private static double time(Engine engine, int calls, String method, String path, byte[] question) throws Exception {
        for (int i = 0; i < calls; i++) {
            engine.ask(method, path, question);
        }
        long start = System.nanoTime();
        for (int i = 0; i < calls; i++) {
            engine.ask(method, path, question);
        }
        return (System.nanoTime() - start) / 1e3 / calls;
    }

    private static void check(boolean holds, String otherwise) throws IOException {
        if (!holds) {
            throw new IOException(otherwise);
        }
    }
}
