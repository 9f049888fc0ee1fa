using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Unicode;
using CsCheck;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tests.Records;

/// <summary>The octets are those of the writer of System.Text.Json, which the records were written with before.</summary>
public class JsonTextTests
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.Create(UnicodeRanges.All), SkipValidation = true };

    [Fact]
    public void AnyText_IsWrittenAsTheLibraryWritesIt() =>
        Gen.String[Gen.OneOf(Gen.Char, Gen.Char[' ', '~'], Gen.Const('"'), Gen.Const('é'), Gen.Const('\u2028')), 0, 30].Sample(Same, iter: 20_000);

    [Theory, InlineData(""), InlineData("lamp \"5\""), InlineData("<b>&'+`\\"), InlineData("\u0000\u001f\u007f"), InlineData("\U0001F4A1 ליד"), InlineData("\ud800"), InlineData("a\udc00b")]
    public void OddText_IsWrittenAsTheLibraryWritesIt(string text) => Same(text);

    [Fact]
    public void Numbers_AreWrittenAsTheLibraryWritesThem() => Gen.Select(Gen.Long, Gen.ULong, Gen.Double, Gen.Float).Sample((signed, unsigned, real, single) =>
    {
        if (!double.IsFinite(real) || !float.IsFinite(single))
            return;
        var text = new JsonText();
        text.WriteStartArray();
        text.WriteNumberValue(signed);
        text.WriteNumberValue(unsigned);
        text.WriteNumberValue(single);
        text.WriteStartObject();
        text.WriteNumber("real"u8, real);
        text.WriteEndObject();
        text.WriteEndArray();
        Assert.Equal(Library(json =>
        {
            json.WriteStartArray();
            json.WriteNumberValue(signed);
            json.WriteNumberValue(unsigned);
            json.WriteNumberValue(single);
            json.WriteStartObject();
            json.WriteNumber("real"u8, real);
            json.WriteEndObject();
            json.WriteEndArray();
        }), Encoding.UTF8.GetString(text.Written));
    }, iter: 5_000);

    [Fact]
    public void Lines_StandForThemselves()
    {
        var text = new JsonText();
        for (int line = 0; line < 2; line++)
        {
            text.WriteStartObject();
            text.WriteNull("none"u8);
            text.WriteStartArray("list"u8);
            text.WriteEndArray();
            text.WriteStartArray("words"u8);
            text.WriteStringValue("one"u8);
            text.WriteStringValue("two");
            text.WriteNullValue();
            text.WriteEndArray();
            text.WriteStartObject("inner"u8);
            text.WriteBoolean("flag"u8, true);
            text.WriteEndObject();
            text.WriteString("last"u8, "word"u8);
            text.WriteEndObject();
            text.EndLine();
        }
        const string Line = """{"none":null,"list":[],"words":["one","two",null],"inner":{"flag":true},"last":"word"}""";
        Assert.Equal($"{Line}\n{Line}\n", Encoding.UTF8.GetString(text.Written));
    }

    private static void Same(string text)
    {
        var own = new JsonText();
        own.WriteStartObject();
        own.WriteString("text"u8, text);
        own.WriteString(text, text);
        own.WriteEndObject();
        Assert.Equal(Library(json =>
        {
            json.WriteStartObject();
            json.WriteString("text"u8, text);
            json.WriteString(text, text);
            json.WriteEndObject();
        }), Encoding.UTF8.GetString(own.Written));
    }

    private static string Library(Action<Utf8JsonWriter> write)
    {
        using var stream = new MemoryStream();
        using (var json = new Utf8JsonWriter(stream, Options))
            write(json);
        return Encoding.UTF8.GetString(stream.ToArray());
    }
}
