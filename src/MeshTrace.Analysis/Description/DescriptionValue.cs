using System.Globalization;
using System.Text.Json;

namespace MeshTrace.Analysis.Description;

/// <summary>A JSON value together with its place: the path is made only where somebody has to be told.</summary>
/// <remarks>No message repeats a text of the file: a key pasted into the wrong member would stand in it.</remarks>
internal readonly partial struct DescriptionValue
{
    private readonly DescriptionObject? _owner;
    private readonly string _member;
    private readonly int _item;

    public DescriptionValue(DescriptionContext context, DescriptionObject? owner, string member, JsonElement element, int item = -1)
    {
        Context = context;
        _owner = owner;
        _member = member;
        Element = element;
        _item = item;
    }

    public DescriptionContext Context { get; }
    public JsonElement Element { get; }

    /// <summary>For example <c>$.nodes[2].deviceKey</c>.</summary>
    public string Path
    {
        get
        {
            if (_owner is null)
                return "$";
            string path = $"{_owner.Place.Path}.{_member}";
            return _item < 0 ? path : string.Create(CultureInfo.InvariantCulture, $"{path}[{_item}]");
        }
    }

    public NetworkDescriptionException Fail(string says) => new(Context.File, Path, says);

    public void Note(string says, string? detail = null)
    {
        DescriptionValue self = this;
        Context.Repairs.Add(() => self.Path, _member, says, detail);
    }

    public DescriptionObject AsObject() => Element.ValueKind == JsonValueKind.Object ? new DescriptionObject(this) : throw WrongKind("an object");

    /// <summary>Reads every entry of a list.</summary>
    public T[] AsList<T>(Func<DescriptionValue, T> read, int limit = DescriptionLimits.ListEntries)
    {
        if (Element.ValueKind != JsonValueKind.Array)
            throw WrongKind("a list");
        int length = Element.GetArrayLength();
        if (length > limit)
            throw Fail(string.Create(CultureInfo.InvariantCulture, $"{length} entries, at most {limit} are read"));
        if (length == 0)
            return [];
        var list = new T[length];
        int item = 0;
        foreach (JsonElement element in Element.EnumerateArray())
        {
            list[item] = read(new DescriptionValue(Context, _owner, _member, element, item));
            item++;
        }
        return list;
    }

    private NetworkDescriptionException WrongKind(string needed) => Fail($"{KindInWords} where {needed} is needed");

    private string KindInWords => Element.ValueKind switch
    {
        JsonValueKind.Object => "an object",
        JsonValueKind.Array => "a list",
        JsonValueKind.String => "a text",
        JsonValueKind.Number => "a number",
        JsonValueKind.True or JsonValueKind.False => "true or false",
        _ => "null",
    };
}
